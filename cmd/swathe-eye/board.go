//go:build cgo && customenv

package main

import (
	"swathe/track"
	"swathe/track/cv"
)

// board finds a lens from pictures of a chessboard.
func board(q track.BoardRequest) (track.BoardReply, error) {
	return cv.Board(q, cv.DefaultBoardOptions())
}

// corners finds the corners of a chessboard in a frame.
func corners(q track.CornersRequest) (track.CornersReply, error) {
	return cv.Corners(q, cv.DefaultBoardOptions())
}

// marker draws a printed marker's cells.
func marker(q track.MarkerRequest) (*track.MarkerReply, error) {
	m, err := cv.NewMarkerFinder(q.Dictionary, q.ID)
	if err != nil {
		return nil, err
	}
	defer m.Close()
	rows, err := m.Rows()
	return &track.MarkerReply{Cells: rows}, err
}
