package detect

import (
	"fmt"
	"math"
	"time"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

// Drift finds that a scale no longer weighs as it did: all cats that use it seem to
// have changed together. Beside other scales that is seen against them, however
// slow it is; alone, only where it is sudden, since a slow one cannot be told from
// cats that all gain.
type Drift struct {
	scale string
	open  incident

	was, is, moved, spread []float64 // used again at each look
}

// The limits of drift. leastDrift is a choice of this program: a change of a cat of
// that size is a finding of falling weight soon, so its scale must be told before.
// driftSure is from the budget of false findings: one look a day at means over two
// weeks is at most 365 tries a year, and a normal deviate lies beyond 4.2 in 3 of
// 100 000 (both sides), so one in 100 scale-years is aimed at; simulated houses show
// none to three. Neighbouring days are not independent; loose allows for an autocorrelation of 0.4 from day
// to day, (1+0.4)/(1-0.4) in variance.
const (
	leastDrift = 1.0 // percent, against other scales
	leastJump  = 1.5 // percent, alone: cats wander together less than that in days
	driftSure  = 4.2
	loose      = 1.5

	driftNow    = 14 // days that are now, against other scales
	jumpNow     = 7  // alone
	jumpBefore  = 14
	driftBefore = 90 // days that they are compared with
	driftNear   = 3  // days within which another scale's weighings compare
	nowNeeded   = 6  // days with residuals, of all cats
	pastNeeded  = 15 // of them before, and twice as many as now but for one a cat: fewer do not tell the scatter
	surelyNamed = 0.9
)

// NewDrift returns a Drift of the scale that has seen nothing.
func NewDrift(scale string) *Drift {
	return &Drift{scale: scale, open: incident{sign: home.ScaleDrifting}}
}

// Look compares what all cats weighed on any scale until now, a midnight UTC, and
// returns what turned. Look once a day. Nothing is remembered but the finding that
// stands, so a name that is corrected counts at the next look.
func (d *Drift) Look(now time.Time, weighed *Weighed) []home.Transition {
	return d.told(d.open.apply(nil, d.judge(now, weighed), now))
}

// Leave closes what stands, for a scale that is no longer in the household.
func (d *Drift) Leave(now time.Time) []home.Transition {
	return d.told(d.open.apply(nil, clearAs(home.LeftHousehold), now))
}

func (d *Drift) told(turned []home.Transition) []home.Transition {
	for i := range turned {
		turned[i].Finding.Source = d.scale
	}
	return turned
}

// Stand makes the finding f, told before, stand again.
func (d *Drift) Stand(f home.Finding) { d.open.open = &f }

// Open returns the finding that stands, if one does.
func (d *Drift) Open() []home.Finding {
	if d.open.open == nil {
		return nil
	}
	f := *d.open.open
	f.Source = d.scale
	return []home.Finding{f}
}

// comparison is one way to see that a scale has moved.
type comparison struct {
	recent, before int     // days
	least          float64 // percent
	residual       func(w *Weighed, c *weighedCat, on *weighedOn, day, slot int) (float64, bool)
}

var (
	besideOthers = comparison{driftNow, driftBefore, leastDrift, (*Weighed).against}
	byItself     = comparison{jumpNow, jumpBefore, leastJump, (*Weighed).alone}
)

// judge compares now with before.
func (d *Drift) judge(now time.Time, weighed *Weighed) verdict {
	if shift, ok := d.compare(now, weighed, besideOthers); ok {
		return d.say(shift, besideOthers, now, "against the other scales")
	}
	if shift, ok := d.compare(now, weighed, byItself); ok && shift.cats >= 2 {
		return d.say(shift, byItself, now, "for every cat at once, within days")
	}
	return verdict{}
}

// shifted is how much the cats differ now from before, percent.
type shifted struct {
	by, se float64
	cats   int
	n      int  // days with residuals now
	past   int  // and before
	agree  bool // every cat moved that way
}

func (d *Drift) say(s shifted, by comparison, now time.Time, how string) verdict {
	switch least := by.least; {
	case math.Abs(s.by) < least/2:
		return clearAs("The scale weighs as it has done for weeks.")
	case math.Abs(s.by) < least || math.Abs(s.by) < driftSure*s.se || !s.agree:
		return verdict{}
	}
	lo := now.AddDate(0, 0, -2*by.recent)
	return foundAs(home.Finding{Urgency: home.Mention, Onset: now.AddDate(0, 0, -by.recent), OnsetLo: lo, OnsetHi: now,
		ChangePct: s.by, Confidence: 1 - math.Erfc(math.Abs(s.by)/s.se/math.Sqrt2), Data: s.n, Text: driftText(s, how)})
}

func driftText(s shifted, how string) string {
	more := "more"
	if s.by < 0 {
		more = "less"
	}
	return fmt.Sprintf("This scale weighs %.1f %% %s than before, %s (%s). A scale that drifts makes a cat look as if it had changed. "+
		"Look whether the box touches a wall or a foot carries nothing, and calibrate it with a known mass.", math.Abs(s.by), more, how, plural(s.cats, "cat"))
}

// compare takes the residual of each cat on each day, and tells how the days that
// are now differ from those before, each cat against itself. Where nothing stands
// and nothing can be found any more, since cats disagree or the shift is small, what
// is dear to work out is left out.
func (d *Drift) compare(now time.Time, weighed *Weighed, by comparison) (shifted, bool) {
	today, standing := dayOf(now), d.open.open != nil
	s := shifted{agree: true}
	d.moved, d.spread = d.moved[:0], d.spread[:0]
	for _, c := range weighed.cats {
		on := c.used(d.scale, today)
		if on == nil {
			continue
		}
		d.part(weighed, c, on, today, by)
		if len(d.was) < 5 || len(d.is) < 2 {
			continue
		}
		s.cats, s.n, s.past = s.cats+1, s.n+len(d.is), s.past+len(d.was)
		if s.agree || standing {
			d.add(&s)
		}
	}
	if s.n < nowNeeded || s.past < max(pastNeeded, 2*s.n-s.cats) {
		return s, false
	}
	if !s.agree && !standing {
		return s, true
	}
	s.by = stat.HodgesLehmann(d.moved)
	if math.Abs(s.by) >= by.least || standing {
		s.se = loose * stat.MAD(d.spread) * math.Sqrt(1/float64(s.n)+1/float64(s.past))
	}
	return s, true
}

// part parts the residuals of one cat into those of the days before, and of those
// that are now.
func (d *Drift) part(weighed *Weighed, c *weighedCat, on *weighedOn, today int, by comparison) {
	d.was, d.is = d.was[:0], d.is[:0]
	first := today - by.recent - by.before
	for day, at := first, slot(first); day < today; day, at = day+1, nextSlot(at) {
		r, ok := by.residual(weighed, c, on, day, at)
		switch {
		case !ok:
		case day >= today-by.recent:
			d.is = append(d.is, r)
		default:
			d.was = append(d.was, r)
		}
	}
}

// add takes in the residuals of one more cat.
func (d *Drift) add(s *shifted) {
	level := stat.Middle(d.was)
	for _, r := range d.was {
		d.spread = append(d.spread, r-level)
	}
	for _, r := range d.is {
		d.moved = append(d.moved, r-level)
	}
	own := stat.Middle(d.is) - level
	s.agree = s.agree && (s.cats == 1 || own*s.by > 0) && math.Abs(own) > leastDrift/3
	s.by = own
}
