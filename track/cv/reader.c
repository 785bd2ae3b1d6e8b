//go:build cgo && customenv

#include "reader.h"
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/display.h>
#include <libavutil/imgutils.h>
#include <libavutil/pixdesc.h>
#include <libswscale/swscale.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

// For how many frames after a lost one those that follow are not trusted, if no
// key frame comes: ten seconds or so, in which what moves has been sent anew.
#define SW_DISTRUST 300

// How many packets ahead of the frame that was shown may be of frames that nobody
// looks at; more are decoded.
#define SW_UNSEEN 64

struct sw_reader {
	AVFormatContext *fmt;
	AVCodecContext *dec;
	AVPacket *pkt;
	struct SwsContext *to420, *tobgr;
	int weights; // of tobgr: twice the weights, and 1 for full range
	AVFrame *conv; // what is not planar 4:2:0 with 8 bits, made so
	int stream, rotation, ended, bad, failures;
	int distrust; // frames yet to come that may rest on one that was lost
	int64_t lost; // presentation time of the last packet known to be damaged
	int64_t sent; // and of the last one handed to the decoder
	int64_t hurry; // before this time only what later frames rest on is decoded
	int rough;     // and that without smoothing the edges of its blocks
	double step, every; // s between frames and between looks; every 0: all are decoded
	int64_t begin; // presentation time of the first frame
	int64_t unseen[SW_UNSEEN]; // and of those that nobody looks at, not yet passed by a frame
	int unseens;
	uint8_t *work[3]; // planes halved, turned or with one field filled in
	int workcap[3];
	uint8_t *tmp;
	int tmpcap;
};

static void say(char *err, int n, const char *what, int code) {
	char b[128] = "";
	if (code) av_strerror(code, b, sizeof b);
	snprintf(err, n, code ? "%s (%s)" : "%s", what, b);
}

// Half a step off, so that times that are a little early or late stay in their slot.
static int64_t slot(const sw_reader *r, double t) { return (int64_t)floor((t + r->step / 2) / r->every); }

// Whether nobody looks at a packet's frame: it is not the first of its slot. The
// decoder is told so and leaves it out unless others rest on it. Packets that the
// container hides are of no frame at all.
static int unseen(sw_reader *r, const AVPacket *p) {
	int64_t pts = p->pts;
	if (r->every <= 0 || r->begin == AV_NOPTS_VALUE || pts == AV_NOPTS_VALUE || p->flags & AV_PKT_FLAG_DISCARD || r->unseens >= SW_UNSEEN) return 0;
	double t = (pts - r->begin) * av_q2d(r->fmt->streams[r->stream]->time_base);
	if (slot(r, t) != slot(r, t - r->step)) return 0;
	r->unseen[r->unseens++] = pts;
	return 1;
}

// Forgets the unseen ones from one time to another, included, and returns how many.
static int forget(sw_reader *r, int64_t from, int64_t to) {
	int n = 0;
	for (int i = 0; i < r->unseens;)
		if (r->unseen[i] >= from && r->unseen[i] <= to) r->unseen[i] = r->unseen[--r->unseens], n++;
		else i++;
	return n;
}

// Notes that the packet last sent was lost: what rests on it shows the robot
// where it was before.
static void lose(sw_reader *r, int64_t pts) {
	r->distrust = SW_DISTRUST;
	forget(r, pts, pts);
	if (pts != AV_NOPTS_VALUE && (r->lost == AV_NOPTS_VALUE || pts > r->lost)) r->lost = pts;
}

// Told to give up a damaged picture, the decoders that grew out of H.263 hand over
// none and say that they did, on which the library ends the process.
static int may_explode(enum AVCodecID id) {
	switch (id) {
	case AV_CODEC_ID_MPEG4: case AV_CODEC_ID_H263: case AV_CODEC_ID_H263P: case AV_CODEC_ID_H263I: case AV_CODEC_ID_FLV1:
	case AV_CODEC_ID_MSMPEG4V1: case AV_CODEC_ID_MSMPEG4V2: case AV_CODEC_ID_MSMPEG4V3: case AV_CODEC_ID_WMV1: case AV_CODEC_ID_WMV2:
		return 0;
	default:
		return 1;
	}
}

int sw_open(const char *path, int threads, int strict, sw_reader **out, char *err, int errlen) {
	av_log_set_level(AV_LOG_QUIET);
	sw_reader *r = calloc(1, sizeof *r);
	if (!r) { say(err, errlen, "out of memory", 0); return -1; }
	int e = avformat_open_input(&r->fmt, path, NULL, NULL);
	if (e < 0) { say(err, errlen, "it is not a recording that can be opened", e); free(r); return -1; }
	e = avformat_find_stream_info(r->fmt, NULL);
	if (e < 0) { say(err, errlen, "no stream in it can be read", e); sw_close(r); return -1; }
	const AVCodec *codec = NULL;
	r->stream = av_find_best_stream(r->fmt, AVMEDIA_TYPE_VIDEO, -1, -1, &codec, 0);
	if (r->stream < 0 || !codec) { say(err, errlen, "it holds no moving picture", 0); sw_close(r); return -1; }
	AVStream *s = r->fmt->streams[r->stream];
	// A still picture opens as a one-frame video; so does cover art.
	if (strstr(r->fmt->iformat->name, "_pipe") || !strcmp(r->fmt->iformat->name, "image2") ||
	    (s->disposition & AV_DISPOSITION_ATTACHED_PIC)) {
		say(err, errlen, "it is a still picture, not a recording", 0); sw_close(r); return -1;
	}
	for (unsigned i = 0; i < r->fmt->nb_streams; i++)
		if ((int)i != r->stream) r->fmt->streams[i]->discard = AVDISCARD_ALL;
	r->dec = avcodec_alloc_context3(codec);
	if (!r->dec || avcodec_parameters_to_context(r->dec, s->codecpar) < 0) { say(err, errlen, "out of memory", 0); sw_close(r); return -1; }
	r->dec->pkt_timebase = s->time_base;
	r->dec->thread_count = threads;
	r->dec->thread_type = FF_THREAD_FRAME | FF_THREAD_SLICE;
	if (strict && may_explode(codec->id)) r->dec->err_recognition = AV_EF_EXPLODE;
	r->lost = r->sent = r->hurry = r->begin = AV_NOPTS_VALUE;
	e = avcodec_open2(r->dec, codec, NULL);
	if (e < 0) { say(err, errlen, "its picture cannot be decoded", e); sw_close(r); return -1; }
	if (r->dec->width <= 0 || r->dec->height <= 0 || r->dec->width > 16384 || r->dec->height > 16384) {
		say(err, errlen, "its picture has no usable size", 0); sw_close(r); return -1;
	}
	uint8_t *m = av_stream_get_side_data(s, AV_PKT_DATA_DISPLAYMATRIX, NULL);
	if (m) {
		double a = av_display_rotation_get((int32_t *)m); // counter-clockwise degrees
		if (!isnan(a)) r->rotation = (((int)lround(-a / 90.0)) % 4 + 4) % 4;
	}
	r->pkt = av_packet_alloc();
	if (!r->pkt) { say(err, errlen, "out of memory", 0); sw_close(r); return -1; }
	*out = r;
	return 0;
}

void sw_close(sw_reader *r) {
	if (!r) return;
	av_packet_free(&r->pkt);
	av_frame_free(&r->conv);
	sws_freeContext(r->to420);
	sws_freeContext(r->tobgr);
	avcodec_free_context(&r->dec);
	avformat_close_input(&r->fmt);
	for (int i = 0; i < 3; i++) free(r->work[i]);
	free(r->tmp);
	free(r);
}

void sw_get_info(sw_reader *r, sw_info *o) {
	memset(o, 0, sizeof *o);
	AVStream *s = r->fmt->streams[r->stream];
	int odd = r->rotation & 1;
	o->width = odd ? r->dec->height : r->dec->width;
	o->height = odd ? r->dec->width : r->dec->height;
	AVRational q = s->avg_frame_rate.num ? s->avg_frame_rate : s->r_frame_rate;
	if (q.num && q.den) o->fps = av_q2d(q);
	if (s->duration > 0) o->duration = s->duration * av_q2d(s->time_base);
	else if (r->fmt->duration > 0) o->duration = r->fmt->duration / (double)AV_TIME_BASE;
	o->frames = s->nb_frames;
	o->rotation = r->rotation;
	snprintf(o->codec, sizeof o->codec, "%s", r->dec->codec->name);
}

void sw_thin(sw_reader *r, double step, double every) {
	const AVCodecParameters *c = r->fmt->streams[r->stream]->codecpar;
	// Two packets may make one interlaced frame. In H.265 others may rest on what the
	// decoder would leave out.
	if (c->codec_id != AV_CODEC_ID_H264 || !(step > 0) || every < 1.5 * step) return;
	if (c->field_order != AV_FIELD_PROGRESSIVE && c->field_order != AV_FIELD_UNKNOWN) return;
	r->step = step;
	r->every = every;
}

int sw_rest(sw_reader *r, double *t) {
	int64_t last = INT64_MIN;
	for (int i = 0; i < r->unseens; i++)
		if (r->unseen[i] > last) last = r->unseen[i];
	if (r->unseens) *t = last * av_q2d(r->fmt->streams[r->stream]->time_base);
	return r->unseens;
}

int sw_next(sw_reader *r, sw_frame *o) {
	AVFrame *f = av_frame_alloc();
	if (!f) return -1;
	for (;;) {
		int e = avcodec_receive_frame(r->dec, f);
		if (e == 0) break;
		if (e == AVERROR_EOF) { av_frame_free(&f); return 0; }
		if (e != AVERROR(EAGAIN)) { // a damaged frame: go on behind it
			r->bad++;
			lose(r, r->sent);
			if (++r->failures > 10000) { av_frame_free(&f); return -1; }
			continue;
		}
		if (r->ended) { av_frame_free(&f); return 0; }
		e = av_read_frame(r->fmt, r->pkt);
		if (e < 0) { // the end, or a file cut short
			r->ended = 1;
			avcodec_send_packet(r->dec, NULL);
			continue;
		}
		if (r->pkt->stream_index == r->stream) {
			r->sent = r->pkt->pts != AV_NOPTS_VALUE ? r->pkt->pts : r->pkt->dts;
			int far = r->hurry != AV_NOPTS_VALUE && r->sent != AV_NOPTS_VALUE && r->sent < r->hurry;
			r->dec->skip_frame = unseen(r, r->pkt) || far ? AVDISCARD_NONREF : AVDISCARD_DEFAULT;
			r->dec->skip_loop_filter = far && r->rough ? AVDISCARD_ALL : AVDISCARD_DEFAULT;
			if (avcodec_send_packet(r->dec, r->pkt) < 0) {
				r->bad++;
				lose(r, r->sent);
			}
		}
		av_packet_unref(r->pkt);
	}
	r->failures = 0;
	o->av = f;
	int64_t ts = f->best_effort_timestamp;
	o->has_time = ts != AV_NOPTS_VALUE;
	if (r->begin == AV_NOPTS_VALUE) r->begin = ts;
	o->t = o->has_time ? ts * av_q2d(r->fmt->streams[r->stream]->time_base) : 0;
	o->key = f->key_frame;
	o->bad = (f->flags & AV_FRAME_FLAG_CORRUPT) || f->decode_error_flags;
	// The decoder fills in for a frame that it lost with an older one, and does
	// not say so of those that build on it. A whole key frame starts anew, if it
	// comes after what was lost: packets run ahead of the frames shown.
	if (o->bad) lose(r, ts);
	else if (f->key_frame && (r->lost == AV_NOPTS_VALUE || !o->has_time || ts > r->lost)) r->distrust = 0;
	if (r->distrust > 0) {
		r->distrust--;
		o->bad = 1;
	}
	o->interlaced = f->interlaced_frame;
	forget(r, ts, ts);
	o->skipped = o->has_time ? forget(r, INT64_MIN, ts) : 0;
	return 1;
}

int sw_bad_count(sw_reader *r) { return r->bad; }

int sw_seek(sw_reader *r, double t) {
	AVStream *s = r->fmt->streams[r->stream];
	int64_t ts = (int64_t)floor(t / av_q2d(s->time_base) + 0.5);
	int e = av_seek_frame(r->fmt, r->stream, ts, AVSEEK_FLAG_BACKWARD);
	if (e < 0) return e;
	avcodec_flush_buffers(r->dec);
	r->ended = r->distrust = r->unseens = 0;
	r->lost = r->hurry = AV_NOPTS_VALUE;
	return 0;
}

void sw_hurry(sw_reader *r, double t, int rough) {
	r->hurry = (int64_t)floor(t / av_q2d(r->fmt->streams[r->stream]->time_base) + 0.5);
	r->rough = rough;
}

void sw_free_frame(sw_frame *o) {
	AVFrame *f = o->av;
	av_frame_free(&f);
	o->av = NULL;
}

static int plain420(int fmt) { return fmt == AV_PIX_FMT_YUV420P || fmt == AV_PIX_FMT_YUVJ420P; }

static int grow(uint8_t **p, int *cap, int need) {
	if (*cap >= need) return 0;
	uint8_t *q = realloc(*p, need);
	if (!q) return -1;
	*p = q; *cap = need;
	return 0;
}

static void halve_plane(const uint8_t *src, int stride, int w, int h, uint8_t *dst) {
	for (int y = 0; y < h; y++) {
		const uint8_t *a = src + (size_t)(2 * y) * stride, *b = a + stride;
		uint8_t *d = dst + (size_t)y * w;
		for (int x = 0; x < w; x++) d[x] = (a[2 * x] + a[2 * x + 1] + b[2 * x] + b[2 * x + 1] + 2) >> 2;
	}
}

static void turn_plane(const uint8_t *src, int stride, int w, int h, int turns, uint8_t *dst) {
	for (int y = 0; y < h; y++)
		for (int x = 0; x < w; x++) {
			uint8_t v = src[(size_t)y * stride + x];
			if (turns == 1) dst[(size_t)x * h + (h - 1 - y)] = v;
			else if (turns == 2) dst[(size_t)(h - 1 - y) * w + (w - 1 - x)] = v;
			else dst[(size_t)(w - 1 - x) * h + y] = v;
		}
}

// One field only: the lines of the other were taken at another moment.
static void fill_field(const uint8_t *src, int stride, int w, int h, int keep, uint8_t *dst) {
	for (int y = 0; y < h; y++) {
		uint8_t *d = dst + (size_t)y * w;
		if ((y & 1) == keep) { memcpy(d, src + (size_t)y * stride, w); continue; }
		int a = y - 1 < 0 ? y + 1 : y - 1, b = y + 1 >= h ? y - 1 : y + 1;
		const uint8_t *p = src + (size_t)a * stride, *q = src + (size_t)b * stride;
		for (int x = 0; x < w; x++) d[x] = (p[x] + q[x] + 1) >> 1;
	}
}

int sw_planes(sw_reader *r, sw_frame *o, int halve, sw_plane out[3]) {
	AVFrame *f = o->av;
	if (!f || f->width <= 0) return -1;
	if (!plain420(f->format)) {
		r->to420 = sws_getCachedContext(r->to420, f->width, f->height, f->format, f->width, f->height,
			AV_PIX_FMT_YUV420P, SWS_BILINEAR, NULL, NULL, NULL);
		if (!r->to420) return -1;
		if (r->conv && (r->conv->width != f->width || r->conv->height != f->height)) av_frame_free(&r->conv);
		if (!r->conv) {
			r->conv = av_frame_alloc();
			if (!r->conv) return -1;
			r->conv->width = f->width; r->conv->height = f->height; r->conv->format = AV_PIX_FMT_YUV420P;
			if (av_frame_get_buffer(r->conv, 0) < 0) { av_frame_free(&r->conv); return -1; }
		}
		sws_scale(r->to420, (const uint8_t *const *)f->data, f->linesize, 0, f->height, r->conv->data, r->conv->linesize);
	}
	AVFrame *src = plain420(f->format) ? f : r->conv;
	for (int i = 0; i < 3; i++) {
		int w = i ? (f->width + 1) / 2 : f->width, h = i ? (f->height + 1) / 2 : f->height;
		uint8_t *p = src->data[i];
		int stride = src->linesize[i];
		int need = w * h;
		if (o->interlaced && h > 2) {
			if (grow(&r->work[i], &r->workcap[i], need) < 0) return -1;
			fill_field(p, stride, w, h, f->top_field_first ? 0 : 1, r->work[i]);
			p = r->work[i]; stride = w;
		}
		for (int k = 0; k < halve; k++) {
			int hw = w / 2, hh = h / 2;
			if (grow(&r->work[i], &r->workcap[i], need) < 0) return -1;
			halve_plane(p, stride, hw, hh, r->work[i]); // writes behind what it has read
			p = r->work[i]; stride = hw; w = hw; h = hh;
		}
		if (r->rotation) {
			if (grow(&r->tmp, &r->tmpcap, need) < 0) return -1;
			turn_plane(p, stride, w, h, r->rotation, r->tmp);
			if (grow(&r->work[i], &r->workcap[i], need) < 0) return -1;
			memcpy(r->work[i], r->tmp, (size_t)w * h);
			if (r->rotation & 1) { int t = w; w = h; h = t; }
			p = r->work[i]; stride = w;
		}
		out[i].pix = p; out[i].width = w; out[i].height = h; out[i].stride = stride;
	}
	return 0;
}

// weights_of are the weights from which a frame's colours were made: as its tags
// say, and where they say nothing those of its size, as players have it.
static int weights_of(const AVFrame *f) {
	switch (f->colorspace) {
	case AVCOL_SPC_BT709: return SWS_CS_ITU709;
	case AVCOL_SPC_BT2020_NCL: case AVCOL_SPC_BT2020_CL: return SWS_CS_BT2020;
	case AVCOL_SPC_UNSPECIFIED: return f->height >= 720 && f->color_range != AVCOL_RANGE_JPEG ? SWS_CS_ITU709 : SWS_CS_ITU601;
	default: return SWS_CS_ITU601;
	}
}

int sw_bgr(sw_reader *r, sw_frame *o, uint8_t *dst) {
	AVFrame *f = o->av;
	struct SwsContext *was = r->tobgr;
	r->tobgr = sws_getCachedContext(r->tobgr, f->width, f->height, f->format, f->width, f->height,
		AV_PIX_FMT_BGR24, SWS_BILINEAR | SWS_ACCURATE_RND | SWS_FULL_CHR_H_INT, NULL, NULL, NULL);
	if (!r->tobgr) return -1;
	int weights = weights_of(f), full = f->format == AV_PIX_FMT_YUVJ420P || f->color_range == AVCOL_RANGE_JPEG;
	if (r->tobgr != was || r->weights != 2 * weights + full) {
		sws_setColorspaceDetails(r->tobgr, sws_getCoefficients(weights), full, sws_getCoefficients(SWS_CS_DEFAULT), 1, 0, 1 << 16, 1 << 16);
		r->weights = 2 * weights + full;
	}
	int w = f->width, h = f->height;
	int line[4] = {3 * w};
	if (!r->rotation) {
		uint8_t *d[4] = {dst};
		return sws_scale(r->tobgr, (const uint8_t *const *)f->data, f->linesize, 0, h, d, line) == h ? 0 : -1;
	}
	if (grow(&r->tmp, &r->tmpcap, 3 * w * h) < 0) return -1;
	uint8_t *d[4] = {r->tmp};
	if (sws_scale(r->tobgr, (const uint8_t *const *)f->data, f->linesize, 0, h, d, line) != h) return -1;
	for (int y = 0; y < h; y++)
		for (int x = 0; x < w; x++) {
			size_t at = r->rotation == 1 ? (size_t)x * h + (h - 1 - y)
				: r->rotation == 2 ? (size_t)(h - 1 - y) * w + (w - 1 - x)
				: (size_t)(w - 1 - x) * h + y;
			memcpy(dst + 3 * at, r->tmp + 3 * ((size_t)y * w + x), 3);
		}
	return 0;
}
