package detect

import (
	"fmt"
	"math"
	"slices"
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
}

// The limits of drift. leastDrift is a choice of this program: a change of a cat of
// that size is a finding of falling weight soon, so its scale must be told before.
// driftSure is from the budget of false findings: one look a day at means over two
// weeks is at most 365 tries a year, and a normal deviate lies beyond 4.2 in 3 of
// 100 000 (both sides), so there is at most one in 100 scale-years. Neighbouring
// days are not independent; loose allows for an autocorrelation of 0.4 from day
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
	pastNeeded  = 15 // of them before
	surelyNamed = 0.9
)

// DriftBack is how old a weighing may be that a [Drift] still needs.
const DriftBack = (driftNow + driftBefore + driftNear + 2) * oneDay

// NewDrift returns a Drift of the scale that has seen nothing.
func NewDrift(scale string) *Drift {
	return &Drift{scale: scale, open: incident{sign: home.ScaleDrifting}}
}

// Look compares, at now, what all cats weighed on any scale in the last [DriftBack],
// and returns what turned. Look once a day. Nothing is remembered but the finding
// that stands, so a name that is corrected counts at the next look.
func (d *Drift) Look(now time.Time, weighings []home.Weighing) []home.Transition {
	return d.told(d.open.apply(nil, d.judge(now, d.daily(now, weighings)), now))
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

// catDays is what one cat weighed, by how many days ago it was, in 100 ln kg so that
// a difference is in percent: on this scale, and on others.
type catDays struct{ here, there [][]float64 }

// daily sorts weighings by cat, in an order that is always the same, and by day.
func (d *Drift) daily(now time.Time, weighings []home.Weighing) []catDays {
	const most = driftNow + driftBefore + driftNear + 2
	today := now.UTC().Truncate(oneDay)
	at := map[string]int{}
	var names []string
	var cats []catDays
	for _, w := range weighings {
		ago := int(today.Add(oneDay-1).Sub(w.Time) / oneDay)
		if w.Kg <= 0 || w.Confidence < surelyNamed || w.Source == home.Hand || ago < 0 || ago >= most {
			continue // a difference on a floor scale is too rough to compare with
		}
		i, ok := at[w.Cat]
		if !ok {
			i = len(cats)
			at[w.Cat], cats, names = i, append(cats, catDays{make([][]float64, most), make([][]float64, most)}), append(names, w.Cat)
		}
		days := cats[i].there
		if w.Source == d.scale {
			days = cats[i].here
		}
		days[ago] = append(days[ago], 100*math.Log(w.Kg))
	}
	sorted := make([]catDays, 0, len(cats))
	slices.Sort(names)
	for _, name := range names {
		sorted = append(sorted, cats[at[name]])
	}
	return sorted
}

// Open returns the finding that stands, if one does.
func (d *Drift) Open() []home.Finding {
	if d.open.open == nil {
		return nil
	}
	f := *d.open.open
	f.Source = d.scale
	return []home.Finding{f}
}

// judge compares now with before.
func (d *Drift) judge(now time.Time, cats []catDays) verdict {
	if shift, ok := compare(cats, driftNow, driftBefore, catDays.against); ok {
		return d.say(shift, leastDrift, driftNow, now, "against the other scales")
	}
	if shift, ok := compare(cats, jumpNow, jumpBefore, catDays.alone); ok && shift.cats >= 2 {
		return d.say(shift, leastJump, jumpNow, now, "for every cat at once, within days")
	}
	return verdict{}
}

// shifted is how much the cats differ now from before, percent.
type shifted struct {
	by, se float64
	cats   int
	n      int  // days with residuals now
	agree  bool // every cat moved that way
}

func (d *Drift) say(s shifted, least float64, window int, now time.Time, how string) verdict {
	switch {
	case math.Abs(s.by) < least/2:
		return clearAs("The scale weighs as it has done for weeks.")
	case math.Abs(s.by) < least || math.Abs(s.by) < driftSure*s.se || !s.agree:
		return verdict{}
	}
	lo := now.AddDate(0, 0, -2*window)
	return foundAs(home.Finding{Urgency: home.Mention, Onset: now.AddDate(0, 0, -window), OnsetLo: lo, OnsetHi: now,
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

// against is how much more the cat weighed on this scale than on others near a day.
func (c catDays) against(ago int) (float64, bool) {
	var there []float64
	for k := max(0, ago-driftNear); k <= ago+driftNear && k < len(c.there); k++ {
		there = append(there, c.there[k]...)
	}
	if len(c.here[ago]) == 0 || len(there) < 2 {
		return 0, false
	}
	return stat.Median(c.here[ago]) - stat.Median(there), true
}

// alone is what the cat weighed on this scale on a day.
func (c catDays) alone(ago int) (float64, bool) {
	return stat.Median(c.here[ago]), len(c.here[ago]) > 0
}

// compare takes the residual of each cat on each day, and tells how the days that
// are now differ from those before, each cat against itself.
func compare(cats []catDays, recent, before int, residual func(catDays, int) (float64, bool)) (shifted, bool) {
	var moved, spread []float64
	s := shifted{agree: true}
	past := 0
	for _, c := range cats {
		was, is := c.days(recent, before, residual)
		if len(was) < 5 || len(is) < 2 {
			continue
		}
		level := stat.Median(was)
		for _, r := range was {
			spread = append(spread, r-level)
		}
		for _, r := range is {
			moved = append(moved, r-level)
		}
		own := stat.Median(is) - level
		s.agree = s.agree && (s.cats == 0 || own*s.by > 0) && math.Abs(own) > leastDrift/3
		s.by, s.cats, s.n, past = own, s.cats+1, s.n+len(is), past+len(was)
	}
	if s.n < nowNeeded || past < pastNeeded {
		return s, false
	}
	s.by = stat.HodgesLehmann(moved)
	sd := stat.MAD(spread)
	s.se = loose * sd * math.Sqrt(1/float64(s.n)+1/float64(past))
	return s, true
}

// days is the residuals of one cat on the days before, and on those that are now.
func (c catDays) days(recent, before int, residual func(catDays, int) (float64, bool)) (was, is []float64) {
	for ago := 1; ago <= recent+before; ago++ {
		r, ok := residual(c, ago)
		switch {
		case !ok:
		case ago <= recent:
			is = append(is, r)
		default:
			was = append(was, r)
		}
	}
	return was, is
}
