package stat

import "math"

// MaxState is the greatest dimension of a [Kalman] state.
const MaxState = 8

// Vec is a state vector; only the first Kalman.N entries count.
type Vec [MaxState]float64

// Kalman is a filter for scalar observations of a small state, with an exact
// diffuse start (Koopman 1997; Durbin and Koopman 2012, ch. 5). It is a plain
// value without pointers: copying it copies the state. The zero value with N set
// is a state known to be exactly zero.
type Kalman struct {
	N       int
	X       Vec
	P       [MaxState]Vec
	pinf    [MaxState]Vec // the part of the variance that is infinite
	diffuse bool          // pinf is not zero
}

// Diffuse makes state i wholly unknown.
func (k *Kalman) Diffuse(i int) {
	k.pinf[i][i] = 1
	k.diffuse = true
}

// Append adds a state with mean x and variance p, independent of the others, and
// returns its index. It panics with more than MaxState of them.
func (k *Kalman) Append(x, p float64) int {
	i := k.N
	k.X[i], k.P[i][i] = x, p
	k.N++
	return i
}

// Scale lets every state i decay to phi[i] times itself and adds the variance q[i].
func (k *Kalman) Scale(phi, q *Vec) {
	for i := range k.N {
		k.X[i] *= phi[i]
		for j := range k.N {
			k.P[i][j] *= phi[i] * phi[j]
		}
		k.P[i][i] += q[i]
	}
	if k.diffuse {
		for i := range k.N {
			for j := range k.N {
				k.pinf[i][j] *= phi[i] * phi[j]
			}
		}
	}
}

// Shear adds dt times state j to state i: a slope j that moves a level i.
func (k *Kalman) Shear(i, j int, dt float64) {
	k.X[i] += dt * k.X[j]
	shear(&k.P, k.N, i, j, dt)
	if k.diffuse {
		shear(&k.pinf, k.N, i, j, dt)
	}
}

func shear(p *[MaxState]Vec, n, i, j int, dt float64) {
	for c := range n {
		p[i][c] += dt * p[j][c]
	}
	for r := range n {
		p[r][i] += dt * p[r][j]
	}
}

// Innovation is what an observation taught: V is the value less its
// prediction, F the variance of V and Gain what the state moved per unit of V.
// F is +Inf where the prediction was diffuse; such an observation has no part in
// the likelihood.
type Innovation struct {
	V, F float64
	Gain Vec
}

// LogLik is the log-density of the innovation, 0 for a diffuse one. Summed, it
// is the exact diffuse log-likelihood over t = 2..n for a local level.
func (n Innovation) LogLik() float64 {
	if math.IsInf(n.F, 1) {
		return 0
	}
	return -0.5 * (math.Log(2*math.Pi*n.F) + n.V*n.V/n.F)
}

// Predict is the mean and variance of h'x; the variance is +Inf where it is diffuse.
func (k *Kalman) Predict(h *Vec) (mean, variance float64) {
	if k.diffuse && quadratic(&k.pinf, h, k.N) > tinyDiffuse {
		return k.dot(h), math.Inf(1)
	}
	return k.dot(h), quadratic(&k.P, h, k.N)
}

// tinyDiffuse is the part of an infinite variance that is taken for rounding.
const tinyDiffuse = 1e-9

// Observe takes in y = h'x + noise of variance r.
func (k *Kalman) Observe(h *Vec, y, r float64) Innovation {
	v := y - k.dot(h)
	if k.diffuse {
		if f := quadratic(&k.pinf, h, k.N); f > tinyDiffuse {
			return k.observeDiffuse(h, v, r, f)
		}
	}
	ph := k.times(&k.P, h)
	f := r
	for i := range k.N {
		f += h[i] * ph[i]
	}
	inn := Innovation{V: v, F: f}
	for i := range k.N {
		g := ph[i] / f
		inn.Gain[i] = g
		k.X[i] += g * v
		for j := range k.N {
			k.P[i][j] -= g * ph[j]
		}
	}
	return inn
}

// observeDiffuse is the limit of Observe as the infinite part of the variance grows.
func (k *Kalman) observeDiffuse(h *Vec, v, r, finf float64) Innovation {
	inn := Innovation{V: v, F: math.Inf(1), Gain: k.times(&k.pinf, h)}
	for i := range k.N {
		inn.Gain[i] /= finf
		k.X[i] += inn.Gain[i] * v
	}
	ph, f := k.times(&k.P, h), quadratic(&k.P, h, k.N)+r
	left := 0.0
	for i := range k.N {
		for j := range k.N {
			gi, gj := inn.Gain[i], inn.Gain[j]
			k.P[i][j] += gi*gj*f - gi*ph[j] - ph[i]*gj
			k.pinf[i][j] -= gi * gj * finf
		}
		left += math.Abs(k.pinf[i][i])
	}
	k.diffuse = left > tinyDiffuse
	return inn
}

func (k *Kalman) dot(h *Vec) float64 {
	s := 0.0
	for i := range k.N {
		s += h[i] * k.X[i]
	}
	return s
}

func (k *Kalman) times(p *[MaxState]Vec, h *Vec) Vec {
	var ph Vec
	for i := range k.N {
		for j := range k.N {
			ph[i] += p[i][j] * h[j]
		}
	}
	return ph
}

func quadratic(p *[MaxState]Vec, h *Vec, n int) float64 {
	s := 0.0
	for i := range n {
		for j := range n {
			s += h[i] * p[i][j] * h[j]
		}
	}
	return s
}
