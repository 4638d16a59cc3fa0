package sheet

import "math"

// body is drawn here of ellipses and tapered limbs; it stands for no real cat.
var body = [][][2]float64{
	limb(.38, .30, .16, .40, .05), limb(.62, .30, .84, .40, .05), // forelegs
	limb(.36, .63, .14, .74, .055), limb(.64, .63, .86, .74, .055), // hind legs
	limb(.50, .72, .62, .985, .028),           // tail
	oval(.50, .49, .185, .255),                // trunk
	{{.385, .105}, {.375, .012}, {.46, .055}}, // ears
	{{.615, .105}, {.625, .012}, {.54, .055}},
	oval(.50, .135, .14, .09), // head
}

// oval is an ellipse around (x, y).
func oval(x, y, rx, ry float64) [][2]float64 {
	const steps = 48
	var out [][2]float64
	for i := range steps {
		a := 2 * math.Pi * float64(i) / steps
		out = append(out, [2]float64{x + rx*math.Cos(a), y + ry*math.Sin(a)})
	}
	return out
}

// limb is a stroke of half-width r from a to b with a rounded end at b. The
// outline is twice as high as wide, so across counts double.
func limb(ax, ay, bx, by, r float64) [][2]float64 {
	dx, dy := bx-ax, 2*(by-ay)
	l := math.Hypot(dx, dy)
	nx, ny := -dy/l*r, dx/l*r/2
	out := [][2]float64{{ax + nx, ay + ny}}
	for i := range 13 {
		a := math.Pi * float64(i) / 12
		c, s := math.Cos(a), math.Sin(a)
		out = append(out, [2]float64{bx + nx*c + dx/l*r*s, by + ny*c + dy/l*r/2*s})
	}
	return append(out, [2]float64{ax - nx, ay - ny})
}
