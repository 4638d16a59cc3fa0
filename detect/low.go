package detect

import (
	"math"
	"time"

	"weighbeam/home"
)

// low finds a weight 10 % under the reference, at whatever pace it came: the
// usual teaching (from memory). The reference is the greatest level that the cat
// held long enough to be sure of, in the last three years, or, before that is
// known, what its keeper typed in. What it weighed on a diet that was agreed, or
// while it carried kittens, is no reference.
type low struct {
	w         *weights
	seen      int
	reference float64 // percent level
	typed     bool    // the reference was typed in
	known     bool
	open      bool
}

const (
	lowLine      = 10.0 // percent under the reference
	lowClear     = 8.0
	lowDays      = 7  // days with a weighing before a level is sure
	settleDays   = 60 // days a level must be old to be a reference
	referenceAge = 3 * 365
)

func newLow(w *weights) *low { return &low{w: w} }

func (l *low) kind() home.Sign { return home.WeightLow }

func (l *low) step(o Observation) verdict {
	if o.Weighing == nil {
		return verdict{}
	}
	return l.judge()
}

func (l *low) tick(time.Time) verdict { return l.judge() }

// wake: only a day that the weights take in changes anything.
func (l *low) wake(time.Time) time.Time { return time.Time{} }

func (l *low) judge() verdict {
	w := l.w
	if w.days() == l.seen {
		return verdict{}
	}
	l.seen = w.days()
	if w.days()-w.adult < lowDays || w.kitten {
		return verdict{}
	}
	l.refer()
	if !l.known {
		return verdict{}
	}
	if plan := w.care.plan(dateOf(w.today())); plan != nil {
		l.reference = min(l.reference, w.levelOf(plan.TargetKg))
	}
	level, sd := w.level()
	under := -percent(level - l.reference)
	margin := -percent(level + 1.64*sd - l.reference)
	switch {
	case !l.open && margin < lowLine, l.open && under < lowLine && under > lowClear:
		return verdict{}
	case under <= lowClear:
		if !l.open {
			return verdict{}
		}
		l.open = false
		return clearAs(lowRegained)
	}
	l.open = true
	return foundAs(l.finding(level, sd))
}

// refer keeps the reference: it rises with a level that lasted and never
// follows a fall.
func (l *low) refer() {
	w := l.w
	if !l.known && w.cat.WeightKg > 0 {
		l.reference, l.known, l.typed = w.levelOf(w.cat.WeightKg), true, true
	}
	p, ok := w.at(int(w.today()) - settleDays)
	if !ok || w.span() < settleDays || w.excused(dateOf(float64(p.day))) { // not a level of the kitten
		return
	}
	if !l.known || l.typed && !l.open || p.level > l.reference {
		l.reference, l.known, l.typed = p.level, true, false
	}
}

func (l *low) finding(level, sd float64) home.Finding {
	w := l.w
	f := home.Finding{
		Urgency: home.Book, ChangePct: percent(level - l.reference),
		Before: w.kg(l.reference), After: w.kg(level), LevelUnit: "kg",
		Confidence: normalCDF((l.reference + 100*math.Log(1-lowLine/100) - level) / sd),
		Data:       min(w.days(), settleDays),
		Warnings:   []string{warnOneScale, warnKnownCause},
	}
	if l.typed {
		f.Warnings = append([]string{warnTypedReference}, f.Warnings...)
	}
	if f.ChangePct <= -2*lowLine {
		f.Urgency = home.Today
	}
	f.Text = lowText(f)
	return f
}

func (l *low) outlook(time.Time, *home.Outlook) {}

func normalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }
