package whose

import "math"

// track is what one story believes about one cat: a level in g and a slope in
// g a day with their covariance, and the scatter of its visits about the level.
type track struct {
	level, slope  float64 // g, g a day
	pll, pls, pss float64 // covariance of level and slope
	scatter       float64 // variance of a visit about the level, g2
	dof           float64 // how many visits the scatter is worth
	sure          float64 // 1/pll, kept for apart
	stated        bool    // its weight was stated at the start
	seen          bool    // a weighing of this cat has been taken in
}

// Constants of the model, in grams and days. They were tuned on the tuning seeds
// of the generator in the tests. The scatter is what food, drink and voids move
// (a meal or a void is 10 to 80 g; common practice, no published source).
const (
	levelNoise = 5.0   // random walk of the level, g a square root of a day
	slopeNoise = 0.35  // random walk of the slope, g a day a square root of a day
	slopeTime  = 120.0 // days after which a slope is forgotten
	slopeStart = 4.0   // sd of the slope of a cat nothing is known of, g a day

	scatterUsual = 45.0 // sd of a cat's visits about its level, until learned, g
	scatterWorth = 15.0 // what the usual scatter is worth at the start, visits
	scatterKeeps = 80.0 // how many visits the scatter remembers
	scatterPull  = 0.1  // how much of a visit the usual scatter is always worth
	scatterLeast = 12.0 // no cat is steadier than this, g
	scatterMost  = 90.0 // nor less steady: a track that took in two cats' visits is no cat

	tailShare = 0.02 // share of visits that err more widely
	tailWider = 9.0  // by this factor, in variance
	tailEnd   = 540  // squared standard deviations beyond which nothing is left

	scaleLeast = 3.0 // no scale is better than this, g
)

// placed reports whether anything is known of where t is.
func (t *track) placed() bool { return t.seen || t.stated }

// drift is how every track moves over one span of time: the transition of an
// integrated Ornstein-Uhlenbeck slope and its noise, exact for any span.
type drift struct {
	days, keep, reach float64 // slope' = keep*slope; level' = level + reach*slope
	qll, qls, qss     float64
}

func driftOver(days float64) drift {
	keep := math.Exp(-days / slopeTime)
	lost := 1 - keep
	q := slopeNoise * slopeNoise
	return drift{
		days: days, keep: keep, reach: slopeTime * lost,
		qll: levelNoise*levelNoise*days +
			q*slopeTime*slopeTime*(days-2*slopeTime*lost+slopeTime/2*(1-keep*keep)),
		qls: q * slopeTime * slopeTime / 2 * lost * lost,
		qss: q * slopeTime / 2 * (1 - keep*keep),
	}
}

// move carries t over d. growth is the slope, in g a day, that t tends to.
func (t *track) move(d *drift, growth float64) {
	excess := t.slope - growth
	t.level += growth*d.days + excess*d.reach
	t.slope = growth + excess*d.keep
	t.pll += 2*d.reach*t.pls + d.reach*d.reach*t.pss + d.qll
	t.pls = d.keep*(t.pls+d.reach*t.pss) + d.qls
	t.pss = d.keep*d.keep*t.pss + d.qss
	t.sure = 1 / t.pll
}

// density is the probability density, a g, of a weighing of mass y g with
// variance r g2 if it was of this cat, where the share wild of visits errs more
// widely, and how much of the density is due to those.
func (t *track) density(y, r, wild float64) (p, tail float64) {
	s := t.pll + t.scatter + r
	e2 := (y - t.level) * (y - t.level) / s
	if e2 > tailEnd {
		return 0, 1
	}
	core := (1 - wild) * math.Exp(-e2/2)
	far := wild / math.Sqrt(tailWider) * math.Exp(-e2/(2*tailWider))
	p = (core + far) / math.Sqrt(2*math.Pi*s)
	if core+far == 0 {
		return 0, 1
	}
	return p, far / (core + far)
}

// take updates t with a weighing of mass y g and variance r g2 of which the
// share tail belongs to the wide part of the density.
func (t *track) take(y, r, tail float64) {
	noise := t.scatter + r
	// The precisions of core and tail mix by how likely each is.
	wide := noise / (1 - tail + tail/tailWider)
	s := t.pll + wide
	e := y - t.level
	gl, gs := t.pll/s, t.pls/s
	rest := 1 - gl
	t.learnScatter(rest*e, r, tail)
	t.level += gl * e
	t.slope += gs * e
	t.pss -= gs * t.pls
	t.pls *= rest
	t.pll *= rest
	t.sure = 1 / t.pll
	t.seen = true
}

// learnScatter moves the scatter towards what the residual left after an
// update says of it; a visit in the tail says little. It is one step of
// expectation maximisation with a fading memory.
func (t *track) learnScatter(left, r, tail float64) {
	noise := t.scatter + r
	// The noise of this visit, given its mass, has mean left and this second moment.
	second := left*left + noise*t.pll/(t.pll+noise)
	part := t.scatter / noise
	mine := part*part*second + t.scatter*(1-part)
	sure := 1 - tail
	t.dof = math.Min(t.dof+sure, scatterKeeps)
	const usual = scatterUsual * scatterUsual
	t.scatter += (sure*(mine-t.scatter) + scatterPull*(usual-t.scatter)) / t.dof
	t.scatter = min(max(t.scatter, scatterLeast*scatterLeast), scatterMost*scatterMost)
}

// blend makes t the moment-matched mixture of t, with weight w, and o, with 1-w.
func (t *track) blend(o *track, w float64) {
	u := 1 - w
	dl, ds := o.level-t.level, o.slope-t.slope
	t.pll = w*t.pll + u*o.pll + w*u*dl*dl
	t.pls = w*t.pls + u*o.pls + w*u*dl*ds
	t.pss = w*t.pss + u*o.pss + w*u*ds*ds
	t.level += u * dl
	t.slope += u * ds
	t.sure = 1 / t.pll
	t.scatter = w*t.scatter + u*o.scatter
	t.dof = w*t.dof + u*o.dof
	t.seen = t.seen || o.seen
}

// apart is how far o is from t, in squared standard deviations of the narrower
// of the two in each of level and slope.
func (t *track) apart(o *track) float64 {
	dl, ds := o.level-t.level, o.slope-t.slope
	if dl == 0 && ds == 0 {
		return 0
	}
	return dl*dl*max(t.sure, o.sure) + ds*ds/min(t.pss, o.pss)
}
