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

// marker draws a printed marker's cells.
func marker([]string) error {
	var req track.MarkerRequest
	if err := json.NewDecoder(bufio.NewReader(os.Stdin)).Decode(&req); err != nil {
		return fmt.Errorf("the request cannot be read: %w", err)
	}
	m, err := cv.NewMarkerFinder(req.Dictionary, req.ID)
	if err != nil {
		return err
	}
	defer m.Close()
	rows, err := m.Rows()
	if err != nil {
		return err
	}
	return emit(track.MarkerReply{Cells: rows})
}
