package residue

import (
	"math"
	"testing"

	"github.com/lucasb-eyer/go-colorful"
)

// sharma is Table 1 of Sharma, Wu and Dalal, "The CIEDE2000 Color-Difference
// Formula: Implementation Notes, Supplementary Test Data, and Mathematical
// Observations", Color Research and Application 30(1), 2005, pages 21-30: two
// colours and their difference, to four decimals.
var sharma = [34][7]float64{
	{50.0, 2.6772, -79.7751, 50.0, 0.0, -82.7485, 2.0425},
	{50.0, 3.1571, -77.2803, 50.0, 0.0, -82.7485, 2.8615},
	{50.0, 2.8361, -74.02, 50.0, 0.0, -82.7485, 3.4412},
	{50.0, -1.3802, -84.2814, 50.0, 0.0, -82.7485, 1.0},
	{50.0, -1.1848, -84.8006, 50.0, 0.0, -82.7485, 1.0},
	{50.0, -0.9009, -85.5211, 50.0, 0.0, -82.7485, 1.0},
	{50.0, 0.0, 0.0, 50.0, -1.0, 2.0, 2.3669},
	{50.0, -1.0, 2.0, 50.0, 0.0, 0.0, 2.3669},
	{50.0, 2.49, -0.001, 50.0, -2.49, 0.0009, 7.1792},
	{50.0, 2.49, -0.001, 50.0, -2.49, 0.001, 7.1792},
	{50.0, 2.49, -0.001, 50.0, -2.49, 0.0011, 7.2195},
	{50.0, 2.49, -0.001, 50.0, -2.49, 0.0012, 7.2195},
	{50.0, -0.001, 2.49, 50.0, 0.0009, -2.49, 4.8045},
	{50.0, -0.001, 2.49, 50.0, 0.001, -2.49, 4.8045},
	{50.0, -0.001, 2.49, 50.0, 0.0011, -2.49, 4.7461},
	{50.0, 2.5, 0.0, 50.0, 0.0, -2.5, 4.3065},
	{50.0, 2.5, 0.0, 73.0, 25.0, -18.0, 27.1492},
	{50.0, 2.5, 0.0, 61.0, -5.0, 29.0, 22.8977},
	{50.0, 2.5, 0.0, 56.0, -27.0, -3.0, 31.903},
	{50.0, 2.5, 0.0, 58.0, 24.0, 15.0, 19.4535},
	{50.0, 2.5, 0.0, 50.0, 3.1736, 0.5854, 1.0},
	{50.0, 2.5, 0.0, 50.0, 3.2972, 0.0, 1.0},
	{50.0, 2.5, 0.0, 50.0, 1.8634, 0.5757, 1.0},
	{50.0, 2.5, 0.0, 50.0, 3.2592, 0.335, 1.0},
	{60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644},
	{63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.263},
	{61.2901, 3.7196, -5.3901, 61.4292, 2.248, -4.962, 1.8731},
	{35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645},
	{22.7233, 20.0904, -46.694, 23.0331, 14.973, -42.5619, 2.0373},
	{36.4612, 47.858, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146},
	{90.8027, -2.0831, 1.441, 91.1528, -1.6435, 0.0447, 1.4441},
	{90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381},
	{6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377},
	{2.0776, 0.0795, -1.135, 0.9033, -0.0636, -0.5514, 0.9082},
}

func TestSharmaPairs(t *testing.T) {
	worst := 0.0
	for i, v := range sharma {
		p, q := Lab{v[0], v[1], v[2]}, Lab{v[3], v[4], v[5]}
		for _, d := range []float64{CIEDE2000(p, q), CIEDE2000(q, p)} {
			e := math.Abs(d - v[6])
			worst = math.Max(worst, e)
			if !(e <= 1e-4) {
				t.Errorf("pair %d: %.6f, the table says %.4f", i+1, d, v[6])
			}
		}
	}
	t.Logf("bound 1e-4, actual %.2g", worst)
}

// TestLabAgainstColorful holds the way from code values to CIELAB and the
// difference of random colours against another library.
func TestLabAgainstColorful(t *testing.T) {
	worstLab, worstDiff := 0.0, 0.0
	var last Lab
	var lastOther colorful.Color
	for r := 0; r < 256; r += 15 {
		for g := 0; g < 256; g += 15 {
			for b := 0; b < 256; b += 15 {
				c := LabOf(linearOf[r], linearOf[g], linearOf[b])
				o := colorful.Color{R: float64(r) / 255, G: float64(g) / 255, B: float64(b) / 255}
				l, a, bb := o.Lab() // hundredths
				worstLab = max(worstLab, math.Abs(c.L-100*l), math.Abs(c.A-100*a), math.Abs(c.B-100*bb))
				d, e := CIEDE2000(c, last), 100*o.DistanceCIEDE2000(lastOther)
				if r+g+b > 0 {
					worstDiff = max(worstDiff, math.Abs(d-e))
				}
				last, lastOther = c, o
			}
		}
	}
	// The two round the matrix and the white to different digits.
	if worstLab > 0.05 || worstDiff > 0.05 {
		t.Errorf("CIELAB differs by up to %.4f, differences by up to %.4f; bound 0.05", worstLab, worstDiff)
	}
	t.Logf("bound 0.05, actual %.4f and %.4f", worstLab, worstDiff)
}
