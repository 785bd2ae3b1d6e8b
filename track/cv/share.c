//go:build cgo && customenv

#include "share.h"

// A coded picture behind which nothing rests on anything before it.
#define IDR 5

int sw_unit_length(const AVStream *s) {
	const AVCodecParameters *c = s->codecpar;
	return c->extradata_size > 6 && c->extradata[0] == 1 ? (c->extradata[4] & 3) + 1 : 0;
}

int sw_first_unit(const uint8_t *p, int n, int len, int *ref) {
	while (n > 0) {
		int64_t size = 1;
		if (len) {
			if (n <= len) return -1;
			size = 0;
			for (int i = 0; i < len; i++) size = size << 8 | *p++;
			n -= len;
			if (size <= 0 || size > n) return -1;
		} else {
			while (n > 3 && !(p[0] == 0 && p[1] == 0 && p[2] == 1)) p++, n--;
			if (n <= 3) return -1;
			p += 3, n -= 3;
		}
		int type = p[0] & 31;
		if (type >= 1 && type <= IDR) {
			*ref = p[0] >> 5 & 3;
			return type;
		}
		p += size, n -= size;
	}
	return -1;
}

int sw_share_whose(sw_sharer *s, const AVPacket *p, int len) {
	if (!s->of) return SW_OURS;
	int ref, before = s->group >= 0 && s->group % s->of == s->turn;
	if (s->group < 0 || sw_first_unit(p->data, p->size, len, &ref) == IDR) s->group++;
	if (s->group % s->of == s->turn) return SW_OURS;
	return before ? SW_OVER : SW_OTHERS;
}

double sw_share_length(AVFormatContext *c, int stream) {
	AVStream *s = c->streams[stream];
	const AVCodecParameters *q = s->codecpar;
	int len = sw_unit_length(s);
	// Where units' lengths are given, what the decoder must know of all groups
	// stands at the head of the file. Two packets may make one interlaced frame.
	if (q->codec_id != AV_CODEC_ID_H264 || !len) return 0;
	if (q->field_order != AV_FIELD_PROGRESSIVE && q->field_order != AV_FIELD_UNKNOWN) return 0;
	// Some containers' index is read when it is first needed.
	if (s->duration <= 0 && c->duration > 0) av_seek_frame(c, stream, av_rescale_q(c->duration, AV_TIME_BASE_Q, s->time_base), AVSEEK_FLAG_BACKWARD);
	int n = avformat_index_get_entries_count(s), keys = 0;
	int64_t first = 0, last = 0;
	for (int i = 0; i < n; i++) {
		const AVIndexEntry *e = avformat_index_get_entry(s, i);
		if (!(e->flags & AVINDEX_KEYFRAME)) continue;
		if (!keys++) first = e->timestamp;
		last = e->timestamp;
	}
	if (keys < 2 || last <= first) return 0;
	// Key frames may as well be ones across which others rest: the last tells.
	if (av_seek_frame(c, stream, last, AVSEEK_FLAG_BACKWARD) < 0) return 0;
	AVPacket *p = av_packet_alloc();
	int ref, closed = 0;
	while (p && av_read_frame(c, p) >= 0) {
		int found = p->stream_index == stream;
		if (found) closed = p->pts != AV_NOPTS_VALUE && sw_first_unit(p->data, p->size, len, &ref) == IDR;
		av_packet_unref(p);
		if (found) break;
	}
	av_packet_free(&p);
	return closed ? (last - first) * av_q2d(s->time_base) / (keys - 1) : 0;
}
