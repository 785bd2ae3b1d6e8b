// When the frames of a recording are shown, read from its container without
// decoding; see pace.go.
#ifndef SWATHE_PACE_H
#define SWATHE_PACE_H
#include <stdint.h>

typedef struct {
	double tick;       // s
	int64_t *times;    // ticks, in the order of the file; malloc'ed
	int count;
	char timecode[32]; // of the first frame, empty if the file has none
	char colour[32];   // the name of its matrix, empty if it says none
} sw_pace;

// 0, or negative with a sentence in err.
int sw_pace_read(const char *path, sw_pace *out, char *err, int errlen);

#endif
