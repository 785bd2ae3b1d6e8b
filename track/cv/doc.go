// Package cv is the only place that links C: the recording reader (libav,
// which OpenCV's own video module is built on), and OpenCV through gocv for
// chessboards, printed markers, pictures and encoding. It exports plain Go
// types and is used by cmd/swathe-eye alone.
//
// Its files carry the build tags `cgo && customenv`, so that everything else
// builds and is tested without a C compiler; cmd/cvenv.sh sets the flags.
package cv
