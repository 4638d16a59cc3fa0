package stat

import (
	"math"
	"slices"
)

// Spread learns a variance from squared deviations, shrunk to a pooled value:
// the posterior mean of a scaled inverse chi-squared prior (Gelman et al.,
// Bayesian Data Analysis, 3rd ed., section 2.6). Old deviations fade.
type Spread struct {
	Pooled float64 // variance expected before anything is seen
	Weight float64 // how many deviations that expectation is worth
	Memory float64 // how many recent deviations count, about; 0 for all
	sum, n float64
}

// Add takes in one squared deviation whose expectation is the variance.
func (s *Spread) Add(squared float64) { s.AddWeighted(squared, 1) }

// AddWeighted takes in one squared deviation that counts as w of them.
func (s *Spread) AddWeighted(squared, w float64) {
	if s.Memory > 0 {
		fade := 1 - w/s.Memory
		s.sum *= fade
		s.n *= fade
	}
	s.sum += w * squared
	s.n += w
}

// Variance is the present estimate.
func (s *Spread) Variance() float64 {
	return (s.Pooled*s.Weight + s.sum) / (s.Weight + s.n)
}

// N is how many deviations the estimate rests on, faded ones in part.
func (s *Spread) N() float64 { return s.n }

// Wander describes how a healthy level moves from day to day: a level that
// drifts as a random walk and a stationary AR(1) wander around it.
type Wander struct {
	SD    float64 // stationary standard deviation of the wander
	Phi   float64 // its correlation from one day to the next
	Drift float64 // standard deviation of one day's step of the level
}

// Step returns the decay of the wander over dt days and the variances that the
// level and the wander gain in them.
func (w Wander) Step(dt float64) (phi, level, wander float64) {
	phi = w.Phi
	if dt != 1 {
		phi = math.Pow(w.Phi, dt)
	}
	return phi, w.Drift * w.Drift * dt, w.SD * w.SD * (1 - phi*phi)
}

// Bank learns a [Wander] by likelihood: it runs one filter for each point of a
// grid and averages the grid by posterior probability, so that a few weeks of
// data lean on the pooled values and a year of data on the cat's own.
type Bank struct {
	models []bankModel
	fade   float64
	since  int // days since the fits were brought up to date
	last   float64
	begun  bool
}

type bankModel struct {
	Wander
	prior, fit         float64 // logarithms
	z2, f              float64 // of the days since fit was brought up to date
	level, wander      float64
	pll, plw, pww      float64
	phi1, qLevel, qWan float64 // Step(1), worked out once
}

// diffuseVariance stands for an unknown level in the bank, where an exact start
// is not needed: every model gets the same first innovation.
const diffuseVariance = 1e6

// NewBank returns a bank over the grid with those prior weights (any scale). fade
// is how much of the past log-likelihood one day keeps, in (0, 1].
func NewBank(grid []Wander, prior []float64, fade float64) *Bank {
	b := &Bank{models: make([]bankModel, len(grid)), fade: fade}
	for i, w := range grid {
		m := bankModel{Wander: w, prior: math.Log(prior[i]), f: 1, pll: diffuseVariance, pww: w.SD * w.SD}
		m.phi1, m.qLevel, m.qWan = w.Step(1)
		b.models[i] = m
	}
	return b
}

// Clone returns a copy that goes its own way.
func (b *Bank) Clone() *Bank {
	c := *b
	c.models = slices.Clone(b.models)
	return &c
}

// foldDays is how many days are added to the fits at once: their variances are
// multiplied, and one logarithm is taken of the product.
const foldDays = 8

// Observe takes in the value y with noise variance r at day t.
func (b *Bank) Observe(t, y, r float64) {
	dt := t - b.last
	b.last = t
	first := !b.begun
	b.begun = true
	for i := range b.models {
		m := &b.models[i]
		if first {
			m.observe(y, r) // every model had the same first innovation
			m.z2, m.f = 0, 1
			continue
		}
		m.advance(dt)
		m.observe(y, r)
	}
	if b.since++; b.since == foldDays {
		b.fold()
	}
}

func (b *Bank) fold() {
	fade := math.Pow(b.fade, float64(b.since))
	b.since = 0
	for i := range b.models {
		m := &b.models[i]
		m.fit = m.fit*fade + m.recent()
		m.z2, m.f = 0, 1
	}
}

// recent is the log-likelihood of the days not folded yet.
func (m *bankModel) recent() float64 { return -0.5 * (math.Log(m.f) + m.z2) }

func (m *bankModel) advance(dt float64) {
	phi, ql, qw := m.phi1, m.qLevel, m.qWan
	if dt != 1 {
		phi, ql, qw = m.Step(dt)
	}
	m.wander *= phi
	m.pll += ql
	m.plw *= phi
	m.pww = m.pww*phi*phi + qw
}

// maxZ2 bounds what one bad day can say about the noise.
const maxZ2 = 9

func (m *bankModel) observe(y, r float64) {
	v := y - m.level - m.wander
	cl, cw := m.pll+m.plw, m.plw+m.pww
	f := cl + cw + r
	gl, gw := cl/f, cw/f
	m.level += gl * v
	m.wander += gw * v
	m.pll -= gl * cl
	m.plw -= gl * cw
	m.pww -= gw * cw
	m.z2 += min(v*v/f, maxZ2)
	m.f *= f
}

// log is the logarithm of the posterior probability, up to a constant.
func (m *bankModel) log() float64 { return m.prior + m.fit + m.recent() }

// unlikely is the logarithm of a probability that changes no mean.
const unlikely = -40

// Mean is the posterior mean of the grid, variances and correlation averaged.
func (b *Bank) Mean() Wander {
	top := math.Inf(-1)
	for i := range b.models {
		top = max(top, b.models[i].log())
	}
	var total, vSD, vDrift, phi float64
	for i := range b.models {
		m := &b.models[i]
		off := m.log() - top
		if off < unlikely {
			continue
		}
		p := math.Exp(off)
		total += p
		vSD += p * m.SD * m.SD
		vDrift += p * m.Wander.Drift * m.Wander.Drift
		phi += p * m.SD * m.SD * m.Phi
	}
	return Wander{SD: math.Sqrt(vSD / total), Phi: phi / vSD, Drift: math.Sqrt(vDrift / total)}
}
