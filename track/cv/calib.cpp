//go:build cgo && customenv

#include "calib.h"
#include <cmath>
#include <cstdio>
#include <opencv2/calib3d.hpp>
#include <vector>

namespace {

int complain(char *err, int errlen, const char *what) {
	std::snprintf(err, errlen, "%s", what);
	return -1;
}

cv::Matx33d matrix(const sw_lens *l) { return cv::Matx33d(l->f[0], 0, l->c[0], 0, l->f[1], l->c[1], 0, 0, 1); }

template <typename P> double distance2(const std::vector<P> &a, const std::vector<P> &b) {
	double sum = 0;
	for (size_t i = 0; i < a.size(); i++) {
		double dx = a[i].x - b[i].x, dy = a[i].y - b[i].y;
		sum += dx * dx + dy * dy;
	}
	return sum;
}

void pinhole(const std::vector<std::vector<cv::Point3f>> &object, const std::vector<std::vector<cv::Point2f>> &image,
             cv::Size size, sw_lens *l, double *per_view) {
	cv::Mat k = cv::Mat::eye(3, 3, CV_64F), d = cv::Mat::zeros(5, 1, CV_64F), sdi, sde, pve;
	std::vector<cv::Mat> rv, tv;
	int flags = l->square ? cv::CALIB_FIX_ASPECT_RATIO : 0;
	l->rms = cv::calibrateCamera(object, image, size, k, d, rv, tv, sdi, sde, pve, flags);
	sdi.convertTo(sdi, CV_64F);
	pve.convertTo(pve, CV_64F);
	l->f[0] = k.at<double>(0, 0), l->f[1] = k.at<double>(1, 1);
	l->c[0] = k.at<double>(0, 2), l->c[1] = k.at<double>(1, 2);
	for (int i = 0; i < 5; i++) l->dist[i] = d.at<double>(i);
	for (int i = 0; i < 9; i++) l->sd[i] = sdi.at<double>(i);
	if (l->square) l->sd[0] = l->sd[1]; // the one focal length is counted as the second
	for (size_t i = 0; i < image.size(); i++) per_view[i] = pve.at<double>((int)i);
}

void fisheye(const std::vector<std::vector<cv::Point3f>> &object, const std::vector<std::vector<cv::Point2f>> &image,
             cv::Size size, sw_lens *l, double *per_view) {
	// The fisheye functions want doubles.
	std::vector<std::vector<cv::Point3d>> o(object.size());
	std::vector<std::vector<cv::Point2d>> m(image.size());
	for (size_t i = 0; i < object.size(); i++) {
		o[i].assign(object[i].begin(), object[i].end());
		m[i].assign(image[i].begin(), image[i].end());
	}
	cv::Mat k = cv::Mat::eye(3, 3, CV_64F), d = cv::Mat::zeros(4, 1, CV_64F);
	std::vector<cv::Mat> rv, tv;
	int flags = cv::fisheye::CALIB_RECOMPUTE_EXTRINSIC | cv::fisheye::CALIB_FIX_SKEW;
	if (l->fisheye == 2) flags |= cv::fisheye::CALIB_FIX_K3 | cv::fisheye::CALIB_FIX_K4;
	cv::fisheye::calibrate(o, m, size, k, d, rv, tv, flags, cv::TermCriteria(3, 200, 1e-10));
	l->f[0] = k.at<double>(0, 0), l->f[1] = k.at<double>(1, 1);
	l->c[0] = k.at<double>(0, 2), l->c[1] = k.at<double>(1, 2);
	for (int i = 0; i < 4; i++) l->dist[i] = d.at<double>(i);
	l->dist[4] = 0;
	for (int i = 0; i < 9; i++) l->sd[i] = -1;
	double all = 0;
	size_t n = 0;
	for (size_t i = 0; i < o.size(); i++) {
		std::vector<cv::Point2d> p;
		cv::fisheye::projectPoints(o[i], p, rv[i], tv[i], k, d);
		double s = distance2(p, m[i]);
		per_view[i] = std::sqrt(s / p.size());
		all += s, n += p.size();
	}
	l->rms = std::sqrt(all / n);
}

} // namespace

int sw_calibrate(int views, int corners, const float *object, const float *image, int width, int height,
                 sw_lens *lens, double *per_view, char *err, int errlen) {
	try {
		if (views < 1 || corners < 4 || width < 1 || height < 1) return complain(err, errlen, "nothing to calibrate from");
		std::vector<std::vector<cv::Point3f>> o(views);
		std::vector<std::vector<cv::Point2f>> m(views);
		for (int v = 0; v < views; v++)
			for (int i = 0; i < corners; i++) {
				const float *p = object + 3 * ((size_t)v * corners + i), *q = image + 2 * ((size_t)v * corners + i);
				o[v].push_back(cv::Point3f(p[0], p[1], p[2]));
				m[v].push_back(cv::Point2f(q[0], q[1]));
			}
		(lens->fisheye ? fisheye : pinhole)(o, m, cv::Size(width, height), lens, per_view);
		if (!std::isfinite(lens->rms) || !(lens->f[0] > 0) || !(lens->f[1] > 0))
			return complain(err, errlen, "the calibration did not settle");
		return 0;
	} catch (const cv::Exception &e) {
		return complain(err, errlen, e.err.c_str());
	} catch (const std::exception &e) {
		return complain(err, errlen, e.what());
	}
}
