package visit

import "math"

// level is a steady load with how well it is known.
type level struct {
	G, SD float64 // g over the old baseline, and its standard uncertainty
	Core  float64 // s spent within a tenth of it
	Sway  float64 // standard deviation of a frame about it in those, g
}

// steady finds the load that frames i to j-1 hold near to, from their still
// moments: each frame counts by how long it held and how quiet its neighbours
// were, those far off not at all (Tukey's biweight), and the uncertainty allows
// for neighbours that err together.
func (w *work) steady(i, j int, near, floor float64) level {
	l := level{G: near}
	tol := math.Max(0.10*near, 120)
	floor = math.Max(floor, stillest*w.scatter(i, j, near, tol))
	for range 4 {
		w.quiet(i, j, l.G, tol, floor)
		sw, swy := 0.0, 0.0
		for k := i; k < j; k++ {
			sw += w.d[k]
			swy += w.d[k] * w.y[k]
		}
		if sw == 0 {
			break
		}
		l.G = swy / sw
	}
	w.doubt(i, j, &l, tol)
	return l
}

// stillest bounds how much more a still moment counts than a usual one: without
// a bound a few frames that agree by chance would outweigh all others.
const stillest = 0.5

// chosen makes up for weights that were drawn from the same frames: those that
// happen to agree count more, and seem surer than they are. Set on simulated houses.
const chosen = 1.3

// scatter is the standard deviation of frames i to j-1 about c, robustly.
func (w *work) scatter(i, j int, c, tol float64) float64 {
	n := 0
	for k := i; k < j; k++ {
		if r := math.Abs(w.y[k] - c); r < tol {
			w.v[n] = r
			n++
		}
	}
	return 1.4826 * median(w.v[:n])
}

// quiet sets the weight d of each frame about centre c.
func (w *work) quiet(i, j int, c, tol, floor float64) {
	for k := i; k < j; k++ {
		r := w.y[k] - c
		w.v[k] = math.Min(r*r, tol*tol)
	}
	for k := i; k < j; k++ {
		v, h := 0.0, 0.0
		for m := max(i, k-2); m <= min(j-1, k+2); m++ {
			v += w.v[m] * w.h[m]
			h += w.h[m]
		}
		r := (w.y[k] - c) / tol
		w.d[k] = 0
		if u := 1 - r*r; u > 0 {
			w.d[k] = w.h[k] * u * u / (v/h + floor*floor)
		}
	}
}

// doubt sets the uncertainty, core and sway of l from the weights d.
func (w *work) doubt(i, j int, l *level, tol float64) {
	sw, s2, lag, hs, ss, prev := 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
	for k := i; k < j; k++ {
		r := w.y[k] - l.G
		if math.Abs(r) > tol {
			prev = 0
			continue
		}
		e := w.d[k] * r
		sw += w.d[k]
		s2 += e * e
		lag += e * prev
		prev = e
		hs += w.h[k]
		ss += w.h[k] * r * r
	}
	l.Core = hs
	if sw == 0 || hs == 0 {
		l.SD = tol
		return
	}
	l.Sway = math.Sqrt(ss / hs)
	rho := min(max(lag/math.Max(s2, 1e-9), 0), 0.8)
	l.SD = chosen * math.Sqrt(s2*(1+rho)/(1-rho)) / sw
}
