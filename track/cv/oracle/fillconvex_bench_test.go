//go:build cgo && customenv

package oracle

import (
	"encoding/binary"
	"math"
	"os"
	"syscall"
	"testing"
)

func TestFillConvexSetsCells(t *testing.T) {
	// A square of 4 x 4 cells' extent between centres: 5 x 5 centres, edges in.
	n, err := FillConvex([]float64{2, 2, 6, 2, 6, 6, 2, 6}, 10, 10)
	if err != nil || n != 25 {
		t.Errorf("set %d cells, error %v: want 25", n, err)
	}
	if _, err := FillConvex(nil, 10, 10); err == nil {
		t.Error("no quadrilaterals were filled without an error")
	}
}

// cpuSeconds returns the processor time that the benchmark has used, which a busy
// machine stretches less than the clock's.
func cpuSeconds(b *testing.B) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}

// BenchmarkFillConvexPoly sets the cells of the hour whose quadrilaterals
// coverage's TestWriteHourQuads wrote; cmd/bench-sweep.sh runs both.
func BenchmarkFillConvexPoly(b *testing.B) {
	name := os.Getenv("SWATHE_QUADS")
	if name == "" {
		b.Skip("SWATHE_QUADS names no file: run cmd/bench-sweep.sh")
	}
	raw, err := os.ReadFile(name)
	if err != nil {
		b.Fatal(err)
	}
	quads := make([]float64, len(raw)/8)
	for i := range quads {
		quads[i] = math.Float64frombits(binary.LittleEndian.Uint64(raw[8*i:]))
	}
	b.Run("hour/room=20m2/cell=5mm/path=straight", func(b *testing.B) {
		set := 0
		cpu := cpuSeconds(b)
		for i := 0; i < b.N; i++ {
			if set, err = FillConvex(quads, 1000, 800); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(set)*25e-6, "m2")
		b.ReportMetric((cpuSeconds(b)-cpu)*1e9/float64(b.N)/float64(len(quads)/8+1), "cpu-ns/pose")
	})
}
