//go:build cgo && customenv

#include "marker.h"
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <opencv2/aruco.hpp>
#include <opencv2/imgproc.hpp>
#include <vector>

struct sw_marker {
	cv::Ptr<cv::aruco::Dictionary> dict;
	cv::Ptr<cv::aruco::DetectorParameters> par;
	cv::Mat large; // kept from call to call
};

static int complain(char *err, int errlen, const char *what) {
	std::snprintf(err, errlen, "%s", what);
	return -1;
}

int sw_marker_new(int dictionary, sw_marker **out, char *err, int errlen) {
	try {
		sw_marker *m = new sw_marker;
		m->dict = cv::aruco::getPredefinedDictionary(dictionary);
		m->par = cv::aruco::DetectorParameters::create();
		// Corners are refined here, with a window that fits the marker.
		m->par->cornerRefinementMethod = cv::aruco::CORNER_REFINE_NONE;
		*out = m;
		return 0;
	} catch (const std::exception &e) {
		return complain(err, errlen, e.what());
	}
}

void sw_marker_free(sw_marker *m) { delete m; }
int sw_marker_count(sw_marker *m) { return m->dict->bytesList.rows; }
int sw_marker_cells(sw_marker *m) { return m->dict->markerSize; }

int sw_marker_find(sw_marker *m, const uint8_t *pix, int width, int height, int stride, int enlarge,
                   float *corners, int *ids, int max, char *err, int errlen) {
	try {
		if (!pix || width < 8 || height < 8 || stride < width || enlarge < 1) return complain(err, errlen, "no picture");
		cv::Mat view(height, width, CV_8UC1, (void *)pix, stride), img = view;
		if (enlarge > 1) {
			cv::resize(view, m->large, cv::Size(), enlarge, enlarge, cv::INTER_CUBIC);
			img = m->large;
		}
		// Down to 10 px a side, whatever the picture's size.
		m->par->minMarkerPerimeterRate = std::min(0.03, 40.0 * enlarge / std::max(img.cols, img.rows));
		std::vector<std::vector<cv::Point2f>> found;
		std::vector<int> id;
		cv::aruco::detectMarkers(img, m->dict, found, id, m->par);
		int n = 0;
		for (size_t i = 0; i < found.size() && n < max; i++) {
			std::vector<cv::Point2f> &c = found[i];
			double side = cv::arcLength(c, true) / 4, cell = side / (m->dict->markerSize + 2);
			int win = (int)std::lround(std::min(11.0, 0.7 * cell));
			if (win >= 1 && 2 * win + 5 < std::min(img.cols, img.rows)) {
				std::vector<cv::Point2f> fine = c;
				cv::cornerSubPix(img, fine, cv::Size(win, win), cv::Size(-1, -1), cv::TermCriteria(3, 50, 0.005));
				for (int k = 0; k < 4; k++)
					if (cv::norm(fine[k] - c[k]) < win + 1) c[k] = fine[k];
			}
			for (int k = 0; k < 4; k++) {
				corners[8 * n + 2 * k] = (c[k].x + 0.5f) / enlarge - 0.5f;
				corners[8 * n + 2 * k + 1] = (c[k].y + 0.5f) / enlarge - 0.5f;
			}
			ids[n++] = id[i];
		}
		return n;
	} catch (const cv::Exception &e) {
		return complain(err, errlen, e.err.c_str());
	} catch (const std::exception &e) {
		return complain(err, errlen, e.what());
	}
}

int sw_marker_draw(sw_marker *m, int id, int side, uint8_t *out, char *err, int errlen) {
	try {
		if (id < 0 || id >= m->dict->bytesList.rows) return complain(err, errlen, "the dictionary has no such marker");
		cv::Mat img;
		cv::aruco::drawMarker(m->dict, id, side, img, 1);
		if (img.cols != side || img.rows != side || !img.isContinuous()) return complain(err, errlen, "the marker cannot be drawn at that size");
		std::memcpy(out, img.data, (size_t)side * side);
		return 0;
	} catch (const cv::Exception &e) {
		return complain(err, errlen, e.err.c_str());
	} catch (const std::exception &e) {
		return complain(err, errlen, e.what());
	}
}
