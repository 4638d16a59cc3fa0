package visit

import "math"

// baseline is the load of the scale with nobody on it: a level that drifts, as a
// Kalman filter of level and slope (local linear trend; Durbin and Koopman,
// Time Series Analysis by State Space Methods, 2nd ed., section 3.2).
type baseline struct {
	At            int64   // ns
	Level         float64 // g
	Slope         float64 // g/s
	P00, P01, P11 float64 // covariance of level and slope
	Wander        float64 // g^2/s: how the level wanders
	Off           int     // run of innovations far off on one side, signed
}

const (
	bendVar  = 2e-5 * 2e-5 // (g/s)^2/s: how the slope bends; a daily swing of 40 g bends about so
	slopeVar = 3e-3 * 3e-3 // (g/s)^2: how steep a slope may be, about 10 g an hour
	coast    = 1800.0      // s for which a slope is carried on without a sample
	oneError = 2.0         // s within which samples share their error
	farOff   = 3.0         // innovations beyond so many standard deviations are clipped
	reopen   = 3           // so many of them in a row are a step
)

// startAt begins anew with one level of variance v.
func (b *baseline) startAt(ns int64, level, v, wander float64) {
	*b = baseline{At: ns, Level: level, P00: v, P11: slopeVar, Wander: wander}
}

// step keeps the slope and lets the level be anything near level.
func (b *baseline) step(ns int64, level, v float64) {
	b.predict(ns)
	b.Level, b.P00, b.P01, b.Off = level, v, 0, 0
}

func (b *baseline) predict(ns int64) {
	dt := seconds(ns - b.At)
	if dt <= 0 {
		return
	}
	b.At = ns
	if dt < coast {
		b.Level += b.Slope * dt
		b.P00 += dt * (2*b.P01 + dt*b.P11)
		b.P01 += dt * b.P11
	} else {
		b.Slope, b.P01, b.P11 = 0, 0, slopeVar
		b.P00 += coast * coast * slopeVar
	}
	b.P00 += b.Wander * dt
	b.P11 = math.Min(b.P11+bendVar*dt, slopeVar)
}

// level is where the empty scale is expected at ns, without moving the filter.
func (b *baseline) level(ns int64) float64 {
	dt := seconds(ns - b.At)
	if dt >= coast || dt <= -coast {
		return b.Level
	}
	return b.Level + b.Slope*dt
}

func (b *baseline) sd() float64 { return math.Sqrt(b.P00) }

// observe takes in a sample x of variance v that follows the last by dt s.
// Samples of a fast scale are not independent: within oneError they count as one.
// It returns the innovation and its standard deviation before clipping.
func (b *baseline) observe(ns int64, x, v, dt float64) (float64, float64) {
	b.predict(ns)
	if dt < oneError {
		v *= oneError / math.Max(dt, 1e-3)
	}
	s := math.Sqrt(b.P00 + v)
	e := x - b.Level
	raw := e
	if lim := farOff * s; math.Abs(e) > lim {
		b.far(e)
		e = math.Copysign(lim, e)
	} else {
		b.Off = 0
	}
	k0, k1 := b.P00/(s*s), b.P01/(s*s)
	b.Level += k0 * e
	b.Slope += k1 * e
	b.P11 -= k1 * b.P01
	b.P01 -= k0 * b.P01
	b.P00 -= k0 * b.P00
	return raw, s
}

// far counts innovations far off on one side and opens the filter when they
// persist: a small step happened that was no visit.
func (b *baseline) far(e float64) {
	if (e > 0) == (b.Off > 0) {
		b.Off += sign(e)
	} else {
		b.Off = sign(e)
	}
	if b.Off >= reopen || b.Off <= -reopen {
		b.P00 += e * e
		b.Off = 0
	}
}

func sign(v float64) int {
	if v < 0 {
		return -1
	}
	return 1
}

func seconds(ns int64) float64 { return float64(ns) * 1e-9 }
