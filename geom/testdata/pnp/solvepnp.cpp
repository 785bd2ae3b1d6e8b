// Makes solvepnp.json: marks drawn with noise, and the pose that OpenCV's
// solvePnP (iterative: Levenberg-Marquardt on the reprojection error) finds from
// them with the lens given. Debian 12, OpenCV 4.6:
//
//   g++ -I/usr/include/opencv4 solvepnp.cpp -lopencv_core -lopencv_calib3d -o pnp && ./pnp > solvepnp.json
#include <opencv2/calib3d.hpp>
#include <opencv2/core.hpp>
#include <cstdio>
#include <vector>

int main() {
	cv::RNG rng(11);
	printf("[\n");
	const int cases = 12;
	for (int c = 0; c < cases; c++) {
		double f = rng.uniform(550.0, 900.0), h = rng.uniform(2.4, 3.4);
		cv::Matx33d k(f, 0, 639.5, 0, f * rng.uniform(0.995, 1.005), 359.5, 0, 0, 1);
		std::vector<double> dist = {rng.uniform(-0.15, 0.05), rng.uniform(-0.02, 0.03), rng.gaussian(0.0005), rng.gaussian(0.0005), 0};
		// Looks down with a tilt; rotation of a half turn about x, then a bit.
		cv::Vec3d tilt(rng.uniform(-0.35, 0.35), rng.uniform(-0.35, 0.35), rng.uniform(-1.5, 1.5));
		cv::Matx33d down(1, 0, 0, 0, -1, 0, 0, 0, -1), t;
		cv::Rodrigues(tilt, t);
		cv::Matx33d r = t * down;
		cv::Vec3d centre(rng.uniform(1.5, 2.5), rng.uniform(1.2, 1.8), h), tv = -(r * centre), rv;
		cv::Rodrigues(r, rv);
		std::vector<cv::Point3d> floor;
		std::vector<cv::Point2d> px;
		// A third of them raised, on boxes.
		int n = 6 + rng.uniform(0, 10);
		for (int tries = 0; (int)floor.size() < n && tries < 5000; tries++) {
			cv::Point3d p(rng.uniform(0.2, 3.8), rng.uniform(0.2, 2.8), floor.size() % 3 == 2 ? rng.uniform(0.2, 0.7) : 0);
			std::vector<cv::Point2d> q;
			cv::projectPoints(std::vector<cv::Point3d>{p}, rv, tv, k, dist, q);
			if (q[0].x < 5 || q[0].y < 5 || q[0].x > 1275 || q[0].y > 715) continue;
			floor.push_back(p);
			px.push_back(cv::Point2d(q[0].x + rng.gaussian(0.3), q[0].y + rng.gaussian(0.3)));
		}
		if ((int)floor.size() < n) { c--; continue; }
		cv::Vec3d ro, to;
		if (!cv::solvePnP(floor, px, k, dist, ro, to, false, cv::SOLVEPNP_ITERATIVE)) return 1;
		cv::solvePnPRefineLM(floor, px, k, dist, ro, to, cv::TermCriteria(cv::TermCriteria::EPS + cv::TermCriteria::COUNT, 200, 1e-12));
		cv::Matx33d m;
		cv::Rodrigues(ro, m);
		cv::Vec3d at = -(m.t() * to);
		printf(" {\"fx\": %.12g, \"fy\": %.12g, \"cx\": 639.5, \"cy\": 359.5, \"distortion\": [%.12g, %.12g, %.12g, %.12g, 0],\n  \"marks\": [", k(0, 0), k(1, 1), dist[0], dist[1], dist[2], dist[3]);
		for (int i = 0; i < n; i++)
			printf("%s[%.12g, %.12g, %.12g, %.12g, %.12g]", i ? ", " : "", floor[i].x, floor[i].y, floor[i].z, px[i].x, px[i].y);
		printf("],\n  \"rotation\": [[%.12g, %.12g, %.12g], [%.12g, %.12g, %.12g], [%.12g, %.12g, %.12g]],\n  \"centre\": [%.12g, %.12g, %.12g]}%s\n",
			m(0, 0), m(0, 1), m(0, 2), m(1, 0), m(1, 1), m(1, 2), m(2, 0), m(2, 1), m(2, 2), at[0], at[1], at[2], c + 1 < cases ? "," : "");
	}
	printf("]\n");
}
