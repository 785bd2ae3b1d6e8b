//go:build cgo && customenv

package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"

	"swathe/track"
	"swathe/track/cv"
)

// board finds a lens from pictures of a chessboard.
func board([]string) error {
	var req track.BoardRequest
	if err := json.NewDecoder(bufio.NewReader(os.Stdin)).Decode(&req); err != nil {
		return fmt.Errorf("the request cannot be read: %w", err)
	}
	reply, err := cv.Board(req, cv.DefaultBoardOptions())
	if err != nil {
		return err
	}
	return emit(reply)
}

// corners finds the corners of a chessboard in a frame.
func corners([]string) error {
	var req track.CornersRequest
	if err := json.NewDecoder(bufio.NewReader(os.Stdin)).Decode(&req); err != nil {
		return fmt.Errorf("the request cannot be read: %w", err)
	}
	reply, err := cv.Corners(req, cv.DefaultBoardOptions())
	if err != nil {
		return err
	}
	return emit(reply)
}
