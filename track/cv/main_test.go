//go:build cgo && customenv

package cv

import (
	"os"
	"testing"
)

func TestMain(m *testing.M) {
	code := m.Run()
	if n := leaked(); n != 0 && code == 0 {
		println("OpenCV matrices that nobody closed:", n)
		code = 1
	}
	os.Exit(code)
}
