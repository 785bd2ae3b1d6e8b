package figure

import (
	"bytes"
	"os"
	"testing"
)

func save(tb testing.TB, p *Picture, format, file string) {
	tb.Helper()
	var buf bytes.Buffer
	if err := p.Write(&buf, format); err != nil {
		tb.Fatal(err)
	}
	if err := os.WriteFile(file, buf.Bytes(), 0o644); err != nil {
		tb.Fatal(err)
	}
}
