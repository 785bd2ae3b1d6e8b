package residue

import "math"

// Lab is a colour in CIELAB under D65 for the 2 degree observer.
type Lab struct{ L, A, B float64 }

// linearOf is the sRGB decoding of a code value 0..255 (IEC 61966-2-1): linear
// light, 0..1.
var linearOf = func() (t [256]float64) {
	for i := range t {
		t[i] = decode(float64(i) / 255)
	}
	return t
}()

func decode(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// encode is the inverse of decode, 0..1; it goes on below 0 and above 1 so that
// noise about black and white is not cut off on one side.
func encode(v float64) float64 {
	if v <= 0.0031308 {
		return v * 12.92
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// LabOf converts linear sRGB (0..1 each) to CIELAB. The matrix is that of IEC
// 61966-2-1, the white its own (D65), so that (1, 1, 1) is L = 100, a = b = 0.
func LabOf(r, g, b float64) Lab {
	x := (0.4124*r + 0.3576*g + 0.1805*b) / 0.9505
	y := 0.2126*r + 0.7152*g + 0.0722*b
	z := (0.0193*r + 0.1192*g + 0.9505*b) / 1.0890
	fx, fy, fz := labF(x), labF(y), labF(z)
	return Lab{116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)}
}

func labF(t float64) float64 {
	const d = 6.0 / 29
	if t > d*d*d {
		return math.Cbrt(t)
	}
	return t/(3*d*d) + 4.0/29
}

// CIEDE2000 is the colour difference of CIE 142-2001 with its weights at 1, as
// written down by Sharma, Wu and Dalal, "The CIEDE2000 Color-Difference Formula:
// Implementation Notes, Supplementary Test Data, and Mathematical Observations",
// Color Research and Application 30(1), 2005. It is symmetric.
func CIEDE2000(p, q Lab) float64 {
	c := (math.Hypot(p.A, p.B) + math.Hypot(q.A, q.B)) / 2
	g := 0.5 * (1 - math.Sqrt(pow7(c)/(pow7(c)+pow7(25))))
	a1, a2 := (1+g)*p.A, (1+g)*q.A
	c1, c2 := math.Hypot(a1, p.B), math.Hypot(a2, q.B)
	h1, h2 := hue(a1, p.B), hue(a2, q.B)

	dh, h := 0.0, h1+h2
	if c1*c2 != 0 {
		dh = h2 - h1
		if dh > 180 {
			dh -= 360
		} else if dh < -180 {
			dh += 360
		}
		switch {
		case math.Abs(h1-h2) <= 180:
			h /= 2
		case h < 360:
			h = (h + 360) / 2
		default:
			h = (h - 360) / 2
		}
	}
	dL, dC := q.L-p.L, c2-c1
	dH := 2 * math.Sqrt(c1*c2) * sind(dh/2)
	l, cm := (p.L+q.L)/2, (c1+c2)/2
	t := 1 - 0.17*cosd(h-30) + 0.24*cosd(2*h) + 0.32*cosd(3*h+6) - 0.20*cosd(4*h-63)
	l50 := (l - 50) * (l - 50)
	sL := 1 + 0.015*l50/math.Sqrt(20+l50)
	sC := 1 + 0.045*cm
	sH := 1 + 0.015*cm*t
	u := (h - 275) / 25
	turn := -sind(60*math.Exp(-u*u)) * 2 * math.Sqrt(pow7(cm)/(pow7(cm)+pow7(25)))
	x, y, z := dL/sL, dC/sC, dH/sH
	return math.Sqrt(math.Max(0, x*x+y*y+z*z+turn*y*z))
}

func pow7(x float64) float64 { return x * x * x * x * x * x * x }
func sind(d float64) float64 { return math.Sin(d * math.Pi / 180) }
func cosd(d float64) float64 { return math.Cos(d * math.Pi / 180) }

func hue(a, b float64) float64 {
	if a == 0 && b == 0 {
		return 0
	}
	h := math.Atan2(b, a) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	return h
}
