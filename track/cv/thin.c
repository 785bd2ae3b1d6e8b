//go:build cgo && customenv

#include "thin.h"
#include "share.h"
#include <math.h>

void sw_thin_begin(sw_thinner *k, const AVStream *s, double step, double every) {
	const AVCodecParameters *c = s->codecpar;
	k->step = k->every = 0;
	k->begin = AV_NOPTS_VALUE;
	k->outs = 0;
	if (c->codec_id != AV_CODEC_ID_H264 || !(step > 0) || every < 1.5 * step) return;
	// Two packets may make one frame.
	if (c->field_order != AV_FIELD_PROGRESSIVE && c->field_order != AV_FIELD_UNKNOWN) return;
	k->nal = sw_unit_length(s);
	k->unit = av_q2d(s->time_base);
	k->step = step;
	k->every = every;
}

// Whether no other frame rests on a packet's. What cannot be read is kept.
static int disposable(const uint8_t *p, int n, int len) {
	int ref = 1;
	return sw_first_unit(p, n, len, &ref) > 0 && ref == 0;
}

// Half a step off, so that times that are a little early or late stay in their slot.
static int64_t slot(const sw_thinner *k, double t) { return (int64_t)floor((t + k->step / 2) / k->every); }

void sw_thin_note(sw_thinner *k, const AVPacket *p) {
	if (k->begin == AV_NOPTS_VALUE) k->begin = p->pts;
}

int sw_thin_leave_out(sw_thinner *k, const AVPacket *p) {
	if (k->every <= 0 || p->pts == AV_NOPTS_VALUE || k->outs >= SW_OUT) return 0;
	sw_thin_note(k, p);
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
