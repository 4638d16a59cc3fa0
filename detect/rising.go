package detect

import (
	"time"

	"weighbeam/home"
)

// rising finds a weight that goes up fast. No published line for a home was
// found: the 5 % of a fall is mirrored. A kitten grows, so nothing is said
// before growingUntil.
type rising struct {
	w         *weights
	threshold float64
	budget    float64
	seen      int
	open      *fall
}

const (
	leastGain    = 5.0 // percent of body weight
	growingUntil = 18 * 30 * oneDay
)

func newRising(w *weights, opt Options) *rising {
	return &rising{w: w, threshold: rampThreshold(opt.budget()), budget: opt.budget()}
}

func (r *rising) kind() home.Sign { return home.WeightRising }

func (r *rising) step(o Observation) verdict {
	if o.Weighing == nil {
		return verdict{}
	}
	return r.judge()
}

func (r *rising) tick(time.Time) verdict { return r.judge() }

// wake: only a day that the weights take in changes anything.
func (r *rising) wake(time.Time) time.Time { return time.Time{} }

func (r *rising) judge() verdict {
	w := r.w
	if w.days() == r.seen {
		return verdict{}
	}
	r.seen = w.days()
	switch {
	case w.expecting() && r.open != nil:
		return r.clear(changeExplained)
	case r.open != nil:
		return r.follow()
	case w.expecting() || !w.ready():
		return verdict{}
	}
	best, ok := w.ramps.Best(leastPace, mostPace)
	if !ok || w.youngOn(best.Onset, growingUntil) || best.LLR < r.threshold*w.caution() || best.Slope*(w.today()-best.Onset) < leastGain {
		return verdict{}
	}
	p, ok := w.ramps.Profile(w.today(), leastPace, mostPace, profileLevel)
	if !ok || w.regains(best.Onset) {
		return verdict{}
	}
	w.track(p)
	level, _ := w.level()
	before := level - p.Change.Mid
	f := w.changeFinding(p, before, sureness(r.budget, best.LLR-r.threshold*w.caution()))
	f.Urgency = home.Mention
	f.Text = risingText(f, w.plainWords(f))
	r.open = &fall{finding: f, before: before, raised: w.day}
	return foundAs(f)
}

// follow keeps an open finding up to date, or closes it.
func (r *rising) follow() verdict {
	w := r.w
	level, _ := w.level()
	if level < r.open.before+leastGain/2 {
		return r.clear(risingLost)
	}
	if change, _, ok := w.change(steadyDays); ok && change < steadyLoss {
		return r.clear(risingSteady(steadyDays / 7))
	}
	f := r.open.finding
	w.paceSince(&f, r.open.raised)
	f.After, f.ChangePct = w.kg(level), percent(level-r.open.before)
	if f.Urgency == home.Mention && f.ChangePct >= 10 {
		f.Urgency = home.Book
	}
	f.Data = w.since(f.Onset)
	f.Text = risingText(f, w.plainWords(f))
	r.open.finding = f
	return foundAs(f)
}

func (r *rising) clear(reason string) verdict {
	r.open = nil
	r.w.settle()
	return clearAs(reason)
}

func (r *rising) outlook(time.Time, *home.Outlook) {}

// regains reports whether the cat only comes back to what it weighed within a
// year before the onset: a loss made good is no gain.
func (w *weights) regains(onset float64) bool {
	level, _ := w.level()
	for i := len(w.past) - 1; i >= w.adult; i-- {
		p := &w.past[i]
		if float64(p.day) < onset-365 {
			break
		}
		if float64(p.day) <= onset && p.level > level-leastGain/2 {
			return true
		}
	}
	return false
}

// youngOn reports whether the cat was younger than age on a day.
func (w *weights) youngOn(day float64, age time.Duration) bool {
	return !w.cat.Born.IsZero() && dateOf(day).Before(w.cat.Born.Add(age))
}
