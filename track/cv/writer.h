// The C face of the recording writer; see encode.go for what each call means.
#ifndef SWATHE_WRITER_H
#define SWATHE_WRITER_H
#include <stdint.h>

typedef struct sw_writer sw_writer;

// 0, or negative with a sentence in err.
int sw_create(const char *path, int width, int height, double fps, const char *preset, int crf,
              sw_writer **out, char *err, int errlen);
// One frame of packed BGR, to be shown at t (s). Times must rise.
int sw_write(sw_writer *w, const uint8_t *bgr, double t, char *err, int errlen);
// Ends the file and frees the writer, whatever it returns.
int sw_finish(sw_writer *w, char *err, int errlen);

#endif
