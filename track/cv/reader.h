// The C face of the recording reader; see reader.go for what each call means.
#ifndef SWATHE_READER_H
#define SWATHE_READER_H
#include <stdint.h>
#ifdef __cplusplus
extern "C" {
#endif

typedef struct sw_reader sw_reader;

typedef struct {
	int width, height; // after rotation, pixels
	double fps;        // average frame rate as the container states it, 0 if not
	double duration;   // s as the container states it, 0 if not
	int64_t frames;    // as the container states it, 0 if not
	int rotation;      // quarter turns applied, 0..3, clockwise
	char codec[32];
} sw_info;

typedef struct {
	void *av;      // AVFrame, owned by the caller until sw_free_frame
	double t;      // s, presentation time in the file's own clock
	int has_time;  // 0 where the file gives none
	int key;       // a key frame
	int bad;       // decoded with errors
	int interlaced;
	int skipped; // frames left out between the one before and this
} sw_frame;

typedef struct {
	uint8_t *pix;
	int width, height, stride;
} sw_plane;

// strict: every damage is counted by sw_bad_count, if not in which frame it is.
int sw_open(const char *path, int threads, int strict, sw_reader **out, char *err, int errlen);
void sw_close(sw_reader *r);
void sw_get_info(sw_reader *r, sw_info *out);
// 1: a frame; 0: the end; negative: an error that ends the reading.
int sw_next(sw_reader *r, sw_frame *out);
// How many packets or frames could not be decoded so far.
int sw_bad_count(sw_reader *r);
// From now on leave out frames that no other rests on, undecoded, unless they
// are the first in a slot of `every` seconds; step is the time between frames,
// s. Nothing is left out of what is not H.264, interlaced or without times.
void sw_thin(sw_reader *r, double step, double every);
// Behind the last frame: how many were left out after it, and in *t the time of
// the last of these.
int sw_rest(sw_reader *r, double *t);
// Go to the last key frame at or before t (s, the file's own clock).
int sw_seek(sw_reader *r, double t);
// Until t the frames that no other rests on are left out; rough: the others are
// not smoothed at the edges of their blocks, which shows until the next key frame.
void sw_hurry(sw_reader *r, double t, int rough);
void sw_free_frame(sw_frame *f);
// The three planes of a frame, valid until sw_free_frame or the next call with
// the same reader; halved `halve` times, turned as the container asks.
int sw_planes(sw_reader *r, sw_frame *f, int halve, sw_plane out[3]);
// Packed BGR, 24 bits a pixel, into dst of width*height*3 bytes.
int sw_bgr(sw_reader *r, sw_frame *f, uint8_t *dst);

#ifdef __cplusplus
}
#endif
#endif
