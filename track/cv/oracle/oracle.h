// The C face of the oracles; see oracle.go. Every call returns -1 with a reason
// in err where OpenCV refuses: no exception of it crosses it.
#ifndef SWATHE_ORACLE_H
#define SWATHE_ORACLE_H
#ifdef __cplusplus
extern "C" {
#endif

// Projects n points (x, y, z) by rotation r (row by row), v = r p + t, through
// the lens fx, fy, cx, cy and five (fisheye: four) terms of distortion.
int sw_project(int n, const double *points, const double r[9], const double t[3], int fisheye, const double lens[9],
               double *out, char *err, int errlen);

// Sets the cells of n quadrilaterals (x and y of four corners each, in
// cells) in an nx x ny picture that starts empty. Returns how many are set.
long sw_fill_convex(long n, const double *quads, int nx, int ny, char *err, int errlen);

#ifdef __cplusplus
}
#endif
#endif
