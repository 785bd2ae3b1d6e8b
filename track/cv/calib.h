// The C face of OpenCV's camera calibration; see board.go. Every call returns
// 0, or -1 with a reason in err: no exception of OpenCV crosses it.
#ifndef SWATHE_CALIB_H
#define SWATHE_CALIB_H
#ifdef __cplusplus
extern "C" {
#endif

// fisheye: 1 the equidistant model with k1..k4, 2 with k1 and k2 alone. square: one focal length for
// both axes (pinhole only).
typedef struct {
	int fisheye, square;
	double f[2], c[2], dist[5];
	double sd[9]; // of f, c, dist; negative where the method gives none
	double rms;   // px
} sw_lens;

// object: views*corners*3 floats (m), image: views*corners*2 floats (px);
// per_view: root mean square of each view, px.
int sw_calibrate(int views, int corners, const float *object, const float *image, int width, int height,
                 sw_lens *lens, double *per_view, char *err, int errlen);

#ifdef __cplusplus
}
#endif
#endif
