// Package stats holds the statistics that a handful of trials can bear: means
// with Student intervals, differences by Welch and in pairs, counts by Wilson,
// and the propagation of uncertainty of the GUM and its Supplement 1.
//
// Every function takes plain slices, changes none of them, and returns NaN for
// what so few values cannot give: one value has no scatter, two have no
// interval worth the name (the factor on s is 8.98). A NaN among the values is
// the caller's slip and makes the result NaN.
//
// Terms: JCGM 100:2008 (GUM) and JCGM 101:2008 (Supplement 1, Monte Carlo).
package stats
