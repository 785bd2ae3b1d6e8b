// The C face of OpenCV's aruco module; see marker.go. Every call returns a
// number of 0 or more, or -1 with a reason in err: no exception of OpenCV
// crosses it.
#ifndef SWATHE_MARKER_H
#define SWATHE_MARKER_H
#include <stdint.h>
#ifdef __cplusplus
extern "C" {
#endif

typedef struct sw_marker sw_marker;

// dictionary: a number of cv::aruco::PREDEFINED_DICTIONARY_NAME.
int sw_marker_new(int dictionary, sw_marker **out, char *err, int errlen);
void sw_marker_free(sw_marker *m);
// How many markers the dictionary has, and how many cells one is wide without
// its border.
int sw_marker_count(sw_marker *m);
int sw_marker_cells(sw_marker *m);
// Finds markers in a grey picture enlarged `enlarge` times: up to max of them,
// eight numbers (x, y of the four corners, px of the picture) and an id each.
int sw_marker_find(sw_marker *m, const uint8_t *pix, int width, int height, int stride, int enlarge,
                   float *corners, int *ids, int max, char *err, int errlen);
// Draws marker id, side px wide with its border of one cell, into side*side bytes.
int sw_marker_draw(sw_marker *m, int id, int side, uint8_t *out, char *err, int errlen);

#ifdef __cplusplus
}
#endif
#endif
