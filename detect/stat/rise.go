package stat

import "math"

// RiseModel is one belief about how the values of a series that has not changed
// lie about their usual: each off by independent noise, on top of a wander that
// comes and goes.
type RiseModel struct {
	Noise     float64 // standard deviation of a single value, beside its own R
	Wander    float64 // standard deviation of the wander
	WanderFor float64 // days in which the wander's correlation falls to 1/e
	Prior     float64 // how likely the model is before anything is seen; any positive scale
}

// Rises watches a series with an unknown usual level for a rise at a steady pace
// that began at an unknown time. Its evidence is the Shiryaev-Roberts sum of
// likelihood ratios over onsets, averaged over paces and over models weighted by
// how well each has told the series so far (Shiryaev 1963; Pollak 1985; for
// mixtures Lai 1998). A value costs the same however long the series.
//
// For each model a filter whitens the values, and the same filter whitens the
// ramp from each onset, so that the pace of a rise and its likelihood are
// regression sums that grow by recursion.
//
// A Rises holds no pointers: copying it copies all that it knows, which is how
// a value is taken back.
type Rises struct {
	last    float64 // days
	n       int
	models  [riseModels]riseModel
	used    int
	onsets  [riseOnsets]float64 // days
	started int
}

const (
	riseModels = 24
	riseOnsets = 30
	// A candidate onset stands at each full week. They are kept for 16 weeks,
	// and every fourth of them for a year: an old onset need not be known to
	// the week.
	onsetStep  = 7.0
	onsetFine  = 16 * onsetStep
	onsetWhole = 52 * onsetStep
)

// risePaces are the paces that the evidence is averaged over, in units a week:
// each double the one before, from what takes most of a year to matter to what
// is a matter of days.
var risePaces = [...]float64{0.4, 0.8, 1.6, 3.2}

// riseFade is how much of the models' past record counts after one more value:
// the last 300 or so, since a cat's habits change over the years.
const riseFade = 1 - 1.0/300

type riseModel struct {
	RiseModel
	prior, fit      float64 // logarithms; fit fades
	level, wander   float64 // state: the usual and the wander
	pll, plw, pww   float64 // its variance
	onsets          [riseOnsets]riseSums
	phi             float64
	f, gainL, gainW float64
	innovation      float64
}

// riseSums are the regression sums of one onset under one model.
type riseSums struct {
	level, wander float64 // the ramp's own filter state
	xx, xy        float64 // information on the pace and its product with the pace
}

// NewRises starts with a usual level expected at mean, give or take sd, and at
// most 24 models.
func NewRises(mean, sd float64, models []RiseModel) *Rises {
	r := &Rises{used: min(len(models), riseModels)}
	for i := range r.used {
		m := &r.models[i]
		m.RiseModel = models[i]
		m.prior = math.Log(m.Prior)
		m.level, m.pll, m.pww = mean, sd*sd, m.Wander*m.Wander
	}
	return r
}

// N is how many values it has seen.
func (r *Rises) N() int { return r.n }

// Last is the time of the last value, in days.
func (r *Rises) Last() float64 { return r.last }

// Observe takes in the value y at the time t in days, not before the last one.
// extra is the variance that this value has beside its model's noise. A value
// that is not finite changes nothing.
func (r *Rises) Observe(t, y, extra float64) {
	if !isFinite(y) || !isFinite(t) || !(extra >= 0) || r.n > 0 && t < r.last {
		return
	}
	r.begin(t)
	dt := t - r.last
	if r.n == 0 {
		dt = 0
	}
	top := math.Inf(-1)
	for i := range r.used {
		m := &r.models[i]
		m.advance(dt)
		m.observe(y, extra)
		for k := range r.started {
			m.onsets[k].observe(m, max(0, t-r.onsets[k])/7)
		}
		top = max(top, m.fit)
	}
	for i := range r.used {
		r.models[i].fit -= top // only differences count
	}
	r.last = t
	r.n++
}

// begin adds the onsets up to t and drops those that are too old.
func (r *Rises) begin(t float64) {
	next := math.Floor(t/onsetStep) * onsetStep
	if r.started > 0 {
		next = r.onsets[r.started-1] + onsetStep
	}
	r.drop(t)
	if gap := math.Floor((t-onsetWhole)/onsetStep) * onsetStep; next < gap {
		next = gap // a long silence: no need for the onsets that would be dropped
	}
	for ; next <= t; next += onsetStep {
		r.drop(next)
		k := r.started
		r.onsets[k] = next
		for i := range r.used {
			r.models[i].onsets[k] = riseSums{}
		}
		r.started++
	}
}

func (r *Rises) drop(t float64) {
	kept := 0
	for k := range r.started {
		week := math.Round(r.onsets[k] / onsetStep)
		age := t - r.onsets[k]
		if age > onsetWhole || age > onsetFine && math.Mod(week, 4) != 0 {
			continue
		}
		if kept != k {
			r.onsets[kept] = r.onsets[k]
			for i := range r.used {
				r.models[i].onsets[kept] = r.models[i].onsets[k]
			}
		}
		kept++
	}
	r.started = kept
}

func (m *riseModel) advance(dt float64) {
	m.phi = math.Exp(-dt / m.WanderFor)
	m.wander *= m.phi
	m.plw *= m.phi
	m.pww = m.pww*m.phi*m.phi + m.Wander*m.Wander*(1-m.phi*m.phi)
}

func (m *riseModel) observe(y, extra float64) {
	cl, cw := m.pll+m.plw, m.plw+m.pww
	m.f = cl + cw + m.Noise*m.Noise + extra
	m.gainL, m.gainW = cl/m.f, cw/m.f
	m.innovation = y - m.level - m.wander
	m.level += m.gainL * m.innovation
	m.wander += m.gainW * m.innovation
	m.pll -= m.gainL * cl
	m.plw -= m.gainL * cw
	m.pww -= m.gainW * cw
	m.fit = m.fit*riseFade - 0.5*(math.Log(m.f)+m.innovation*m.innovation/m.f)
}

// observe whitens the ramp, which has risen by x paces now, as the filter of its
// model whitened the value.
func (s *riseSums) observe(m *riseModel, x float64) {
	s.wander *= m.phi
	x -= s.level + s.wander
	s.level += m.gainL * x
	s.wander += m.gainW * x
	s.xx += x * x / m.f
	s.xy += x * m.innovation / m.f
}

// ratio is the likelihood of a rise at the given pace over that of none.
func (s *riseSums) ratio(pace float64) float64 {
	return math.Exp(min(600, pace*s.xy-0.5*pace*pace*s.xx))
}

// Predict is the value expected next at the time t were there no rise, and the
// standard deviation of a value about it, averaged over the models.
func (r *Rises) Predict(t, extra float64) (mean, sd float64) {
	var variance float64
	for i, w := range r.weights() {
		m := &r.models[i]
		phi := 1.0
		if r.n > 0 {
			phi = math.Exp(-max(0, t-r.last) / m.WanderFor)
		}
		pww := m.pww*phi*phi + m.Wander*m.Wander*(1-phi*phi)
		mean += w * (m.level + phi*m.wander)
		variance += w * (m.pll + 2*phi*m.plw + pww + m.Noise*m.Noise + extra)
	}
	return mean, math.Sqrt(variance)
}

// weights are the probabilities of the models, those under one in a thousand
// set to 0 for speed.
func (r *Rises) weights() []float64 {
	w := make([]float64, r.used)
	top := math.Inf(-1)
	for i := range w {
		w[i] = r.models[i].prior + r.models[i].fit
		top = max(top, w[i])
	}
	total := 0.0
	for i := range w {
		v := math.Exp(w[i] - top)
		w[i] = 0
		if v > 1e-3 {
			w[i] = v
			total += v
		}
	}
	for i := range w {
		w[i] /= total
	}
	return w
}

// Evidence is the logarithm of the Shiryaev-Roberts sum: how many times likelier
// what was seen is under a rise that began at some full week than under none,
// summed over the weeks. 0 or less says nothing; compare it with a threshold
// found by simulation.
func (r *Rises) Evidence() float64 {
	sum := 0.0
	for i, w := range r.weights() {
		if w == 0 {
			continue
		}
		m := &r.models[i]
		for k := range r.started {
			for _, pace := range risePaces {
				sum += w * m.onsets[k].ratio(pace) * r.share(k)
			}
		}
	}
	return math.Log(sum / float64(len(risePaces)))
}

// share is how many weeks the onset k stands for.
func (r *Rises) share(k int) float64 {
	if k == 0 {
		return 1
	}
	return (r.onsets[k] - r.onsets[k-1]) / onsetStep
}
