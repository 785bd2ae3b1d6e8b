package figure

import (
	"bytes"
	"os"
	"strconv"
	"testing"
)

func itoa(n int) string { return strconv.Itoa(n) }

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
