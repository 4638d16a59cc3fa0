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
	if b.P11 += bendVar * dt; b.P11 > slopeVar {
		// A slope that is known better than what it is mixed with says cannot be: the
		// level would get a variance below nothing.
		b.P11 = slopeVar
		lim := math.Sqrt(b.P00 * b.P11)
		b.P01 = math.Max(-lim, math.Min(b.P01, lim))
	}
	b.P00 = math.Max(b.P00, leastVar)
}

// leastVar is a milligram, squared: rounding must not make a variance nothing.
const leastVar = 1e-6

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
	switch lim := farOff * s; {
	case math.Abs(e) <= lim:
		b.Off = 0
	case !b.far(e):
		e = math.Copysign(lim, e)
	}
	sum := b.P00 + v // more than s says where the level was let go
	k0, k1 := b.P00/sum, b.P01/sum
	b.Level += k0 * e
	b.Slope += k1 * e
	b.P11 -= k1 * b.P01
	b.P01 -= k0 * b.P01
	b.P00 -= k0 * b.P00
	return raw, s
}

// far counts a sample far from the level. Several in a row on one side mean that
// the level itself has moved: it is let go, and far reports so.
func (b *baseline) far(e float64) (moved bool) {
	if (e > 0) == (b.Off > 0) {
		b.Off += sign(e)
	} else {
		b.Off = sign(e)
	}
	if b.Off < reopen && b.Off > -reopen {
		return false
	}
	b.P00 += e * e
	b.Off = 0
	return true
}

func sign(v float64) int {
	if v < 0 {
		return -1
	}
	return 1
}

func seconds(ns int64) float64 { return float64(ns) * 1e-9 }
