//go:build cgo && customenv

#include "oracle.h"

#include <cmath>
#include <cstdio>
#include <vector>

#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

int sw_project(int n, const double *points, const double r[9], const double t[3], int fisheye, const double lens[9],
               double *out, char *err, int errlen) {
	try {
		std::vector<cv::Point3d> p;
		for (int i = 0; i < n; i++) p.push_back(cv::Point3d(points[3 * i], points[3 * i + 1], points[3 * i + 2]));
		cv::Matx33d rot(r), k(lens[0], 0, lens[2], 0, lens[1], lens[3], 0, 0, 1);
		cv::Vec3d rv, tv(t[0], t[1], t[2]);
		cv::Rodrigues(rot, rv);
		std::vector<cv::Point2d> q;
		if (fisheye)
			cv::fisheye::projectPoints(p, q, rv, tv, k, cv::Vec4d(lens + 4));
		else
			cv::projectPoints(p, rv, tv, k, cv::Mat(5, 1, CV_64F, (void *)(lens + 4)), q);
		for (int i = 0; i < n; i++) out[2 * i] = q[i].x, out[2 * i + 1] = q[i].y;
		return 0;
	} catch (const std::exception &e) {
		std::snprintf(err, errlen, "%s", e.what());
		return -1;
	}
}

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
