// The C face of the recording writer; see encode.go for what each call means.
#ifndef SWATHE_WRITER_H
#define SWATHE_WRITER_H
#include <stdint.h>

typedef struct sw_writer sw_writer;

typedef struct {
	const char *kind; // h264; or, with alpha, prores, vp9, or png, whose pictures come encoded
	int width, height;
	double fps;
	const char *preset; // of h264
	int crf;            // of h264
	const char *timecode; // of the first frame, "" for none
	const char *colour;   // the matrix of the source's colours, "" if not known
} sw_plan;

// 0, or negative with a sentence in err.
int sw_create(const char *path, const sw_plan *plan, sw_writer **out, char *err, int errlen);
// One frame of packed BGR, or BGRA where there is alpha, to be shown at t (s). Times must rise.
int sw_write(sw_writer *w, const uint8_t *pix, double t, char *err, int errlen);
// Of png: one frame as a file of that kind.
int sw_put(sw_writer *w, const uint8_t *png, int size, double t, char *err, int errlen);
// Of prores: the frame before once more, which costs nothing.
int sw_again(sw_writer *w, double t, char *err, int errlen);
// Ends the file and frees the writer, whatever it returns.
int sw_finish(sw_writer *w, char *err, int errlen);

#endif
