//go:build cgo && customenv

#include "pace.h"
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/pixdesc.h>
#include <stdlib.h>
#include <string.h>

static int say(char *err, int n, const char *what, int code) {
	char b[128] = "";
	if (code) av_strerror(code, b, sizeof b);
	snprintf(err, n, code ? "%s (%s)" : "%s", what, b);
	return -1;
}

static void tag(AVDictionary *d, const char *key, char *out, int n) {
	AVDictionaryEntry *e = av_dict_get(d, key, NULL, 0);
	if (e && !*out) snprintf(out, n, "%s", e->value);
}

int sw_pace_read(const char *path, sw_pace *o, char *err, int n) {
	av_log_set_level(AV_LOG_QUIET);
	memset(o, 0, sizeof *o);
	AVFormatContext *f = NULL;
	int e = avformat_open_input(&f, path, NULL, NULL);
	if (e < 0) return say(err, n, "it is not a recording that can be opened", e);
	AVPacket *p = av_packet_alloc();
	int cap = 0, at = -1, bad = 0;
	if (!p || avformat_find_stream_info(f, NULL) < 0) bad = say(err, n, "no stream in it can be read", 0);
	else if ((at = av_find_best_stream(f, AVMEDIA_TYPE_VIDEO, -1, -1, NULL, 0)) < 0) bad = say(err, n, "it holds no moving picture", 0);
	if (!bad) {
		AVStream *s = f->streams[at];
		o->tick = av_q2d(s->time_base);
		tag(s->metadata, "timecode", o->timecode, sizeof o->timecode);
		for (unsigned i = 0; i < f->nb_streams; i++) {
			tag(f->streams[i]->metadata, "timecode", o->timecode, sizeof o->timecode);
			if ((int)i != at) f->streams[i]->discard = AVDISCARD_ALL;
		}
		tag(f->metadata, "timecode", o->timecode, sizeof o->timecode);
		const char *m = av_color_space_name(s->codecpar->color_space);
		if (m && s->codecpar->color_space != AVCOL_SPC_UNSPECIFIED) snprintf(o->colour, sizeof o->colour, "%s", m);
		while (!bad && av_read_frame(f, p) >= 0) {
			// Hidden by the container's edit list: not among the frames shown.
			if (p->stream_index == at && !(p->flags & AV_PKT_FLAG_DISCARD)) {
				if (o->count == cap) {
					cap = cap ? 2 * cap : 4096;
					int64_t *more = realloc(o->times, cap * sizeof *more);
					if (more) o->times = more;
					else bad = say(err, n, "out of memory", 0);
				}
				if (!bad) o->times[o->count++] = p->pts != AV_NOPTS_VALUE ? p->pts : p->dts;
			}
			av_packet_unref(p);
		}
	}
	av_packet_free(&p);
	avformat_close_input(&f);
	if (bad) free(o->times);
	return bad;
}
