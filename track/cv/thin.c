//go:build cgo && customenv

#include "thin.h"
#include <math.h>

void sw_thin_begin(sw_thinner *k, const AVStream *s, double step, double every) {
	const AVCodecParameters *c = s->codecpar;
	k->step = k->every = 0;
	k->begin = AV_NOPTS_VALUE;
	k->outs = 0;
	if (c->codec_id != AV_CODEC_ID_H264 || !(step > 0) || every < 1.5 * step) return;
	// Two packets may make one frame.
	if (c->field_order != AV_FIELD_PROGRESSIVE && c->field_order != AV_FIELD_UNKNOWN) return;
	k->nal = c->extradata_size > 6 && c->extradata[0] == 1 ? (c->extradata[4] & 3) + 1 : 0;
	k->unit = av_q2d(s->time_base);
	k->step = step;
	k->every = every;
}

// Whether no other frame rests on a packet's (nal_ref_idc 0; ITU-T H.264,
// 7.4.1). What cannot be read is kept.
static int disposable(const uint8_t *p, int n, int len) {
	while (n > 0) {
		int64_t size = 1;
		if (len) {
			if (n <= len) return 0;
			size = 0;
			for (int i = 0; i < len; i++) size = size << 8 | *p++;
			n -= len;
			if (size <= 0 || size > n) return 0;
		} else {
			while (n > 3 && !(p[0] == 0 && p[1] == 0 && p[2] == 1)) p++, n--;
			if (n <= 3) return 0;
			p += 3, n -= 3;
		}
		int type = p[0] & 31;
		if (type >= 1 && type <= 5) return (p[0] >> 5 & 3) == 0;
		p += size, n -= size;
	}
	return 0;
}

// Half a step off, so that times that are a little early or late stay in their slot.
static int64_t slot(const sw_thinner *k, double t) { return (int64_t)floor((t + k->step / 2) / k->every); }

int sw_thin_leave_out(sw_thinner *k, const AVPacket *p) {
	if (k->every <= 0 || p->pts == AV_NOPTS_VALUE || k->outs >= SW_OUT) return 0;
	if (k->begin == AV_NOPTS_VALUE) k->begin = p->pts;
	double t = (p->pts - k->begin) * k->unit;
	if (slot(k, t) != slot(k, t - k->step)) return 0; // the first of its slot
	if (!disposable(p->data, p->size, k->nal)) return 0;
	k->out[k->outs++] = p->pts;
	return 1;
}

int sw_thin_passed(sw_thinner *k, int64_t ts) {
	int n = 0;
	for (int i = 0; i < k->outs;)
		if (k->out[i] < ts) k->out[i] = k->out[--k->outs], n++;
		else i++;
	return n;
}

int sw_thin_rest(const sw_thinner *k, double *t) {
	int64_t last = INT64_MIN;
	for (int i = 0; i < k->outs; i++)
		if (k->out[i] > last) last = k->out[i];
	if (k->outs) *t = last * k->unit;
	return k->outs;
}
