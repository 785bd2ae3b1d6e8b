// The C face of OpenCV's fillConvexPoly; see fillconvex.go.
#ifndef SWATHE_FILLCONVEX_H
#define SWATHE_FILLCONVEX_H
#ifdef __cplusplus
extern "C" {
#endif

// Sets the cells of n quadrilaterals (x and y of four corners each, in
// cells) in an nx x ny picture that starts empty. Returns how many are set, or
// -1 with a reason in err.
long sw_fill_convex(long n, const double *quads, int nx, int ny, char *err, int errlen);

#ifdef __cplusplus
}
#endif
#endif
