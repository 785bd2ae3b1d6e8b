//go:build cgo && customenv

#include "fillconvex.h"

#include <cmath>
#include <cstdio>

#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

long sw_fill_convex(long n, const double *quads, int nx, int ny, char *err, int errlen) {
	try {
		const int bits = 8; // of a cell, in the corners' places
		const double one = 1 << bits;
		cv::Mat picture = cv::Mat::zeros(ny, nx, CV_8U);
		cv::Point corners[4];
		for (long i = 0; i < n; i++) {
			for (int k = 0; k < 4; k++) {
				const double *p = quads + 8 * i + 2 * k;
				corners[k] = cv::Point(int(std::lround(p[0] * one)), int(std::lround(p[1] * one)));
			}
			cv::fillConvexPoly(picture, corners, 4, cv::Scalar(1), cv::LINE_8, bits);
		}
		return cv::countNonZero(picture);
	} catch (const std::exception &e) {
		std::snprintf(err, errlen, "%s", e.what());
		return -1;
	}
}
