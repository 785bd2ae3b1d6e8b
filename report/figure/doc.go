// Package figure draws the pictures of runs: how often each spot was cleaned,
// the path, coverage against time and more. It is the only package that
// imports gonum/plot. Its functions take values (a Run, a plan, a coverage
// result) and give a Picture, which writes itself as PNG, SVG or PDF at exactly
// the size asked for and carries a text that says what it shows.
//
// Words in pictures are the reader's ("cleaned 3 times"), colours and scale are
// the same for every run and robot (ramp.go), and nothing is drawn for
// decoration.
//
// Inside the package lengths are pixels of the finished picture, measured from
// its lower left corner, y up; floor coordinates are metres and go through a
// view (view.go), the plan's y up unless the caller turns the plan.
//
// PNG is drawn by gonum/plot's canvas. PDF is written with fpdf, on which
// gonum/plot's own stands too: with that one bold and letters outside Windows-1252
// were outlines, a picture was five times as large (257 kB against 51 kB on
// average), and title and repeated images had to be mended in the file. What
// gonum/plot writes as SVG is mended (vector.go): of those that were tried,
// github.com/tdewolff/canvas writes no title, description or width of text either,
// and would make the program 6.5 MB larger and each start 2 ms longer.
package figure
