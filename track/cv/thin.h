// Which frames of a recording need not be decoded at all.
#ifndef SWATHE_THIN_H
#define SWATHE_THIN_H
#include <libavformat/avformat.h>

// How many frames may be left out ahead of the frames that were shown; more
// are decoded.
#define SW_OUT 64

typedef struct {
	double step, every; // s between frames and between looks; every 0: nothing is left out
	double unit;        // s of one tick of the file's clock
	int64_t begin;      // presentation time of the first packet, ticks
	int nal;            // bytes of a unit's length; 0: units begin with 0 0 1
	int64_t out[SW_OUT]; // presentation times of what was left out, not yet passed by a frame
	int outs;
} sw_thinner;

void sw_thin_begin(sw_thinner *k, const AVStream *s, double step, double every);
// Takes notice of a packet that another reader decodes.
void sw_thin_note(sw_thinner *k, const AVPacket *p);
int sw_thin_leave_out(sw_thinner *k, const AVPacket *p);
int sw_thin_passed(sw_thinner *k, int64_t ts);
int sw_thin_rest(const sw_thinner *k, double *t);
#endif
