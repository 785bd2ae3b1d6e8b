// Package columns has tables written as Apache Parquet by swathe-parquet, a
// program of its own: what it links would take a third of the time that swathe
// may take to start.
package columns

import (
	"bytes"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"os/exec"

	"swathe/report"
	"swathe/track"
)

// Write writes a table as Parquet.
func Write(w io.Writer, t report.ColumnTable) error {
	const name = "swathe-parquet"
	program, ok := track.FindProgram(name, "SWATHE_PARQUET")
	if !ok {
		return errors.New(name + " was found neither beside swathe nor on PATH; build it with: bash cmd/build.sh DIR")
	}
	var in, said bytes.Buffer
	if err := gob.NewEncoder(&in).Encode(t); err != nil {
		return err
	}
	c := exec.Command(program)
	c.Stdin, c.Stdout, c.Stderr = &in, w, &said
	if err := c.Run(); err != nil {
		return fmt.Errorf("%s failed: %w: %s", name, err, bytes.TrimSpace(said.Bytes()))
	}
	return nil
}
