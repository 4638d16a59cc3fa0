package detect

import (
	"math"
	"time"

	"weighbeam/home"
)

// amount finds a daily amount that has left the cat's own usual: more drunk, more
// left in the box, less eaten. It is a plain comparison, without a model: the
// median of the last week against that of six weeks, a week before, in standard
// errors that the autocorrelation of the days is charged to. It must be both sure
// and big. A new food moves all of these, so learning starts again with one.
//
// That a rise of this cat matters more than a fixed line is common teaching; how
// much of one is a choice of this program. movedZ is checked by simulation: see
// TestAmount_FalseFindings.
type amount struct {
	care   *cares
	daily  daily
	sign   home.Sign
	of     func(o Observation) (float64, bool)
	least  float64  // ratio of after to before from which it matters: over 1 for a rise, under for a fall
	names  *weights // whose names must be sure enough; nil where that does not matter
	words  amountWords
	open   *home.Finding
	calm   int       // days in a row that are near the usual again
	before float64   // usual a day, of the open finding
	fresh  time.Time // when the usual began anew
}

// amountWords is how an amount is said.
type amountWords struct {
	unit    string // "g" or "mL"
	text    func(f home.Finding) string
	cleared string
	warn    string
}

const (
	movedZ    = 5.0
	movedCalm = 5 // days
)

// newDrinkingMore finds a cat that drinks more: a half more than is its usual.
func newDrinkingMore(care *cares) *amount {
	return &amount{care: care, sign: home.DrinkingMore, of: drunk, least: 1.4,
		words: amountWords{"mL", drinkingText, drinkingUsual, warnBowls}}
}

// newLitterMore finds a cat that leaves more in its boxes. Where visits could not be
// told apart lately, more of them may only have got the cat's name.
func newLitterMore(care *cares, w *weights) *amount {
	return &amount{care: care, sign: home.LitterMore, of: leftBehind, least: 1.4, names: w,
		words: amountWords{"g", litterMoreText, litterUsual, warnLeftUnsure}}
}

func drunk(o Observation) (float64, bool) {
	switch {
	case o.Count != nil && o.Count.Quantity == home.Drunk:
		return o.Count.Value, true
	case o.Visit != nil && o.Visit.Event == home.Drink && o.Visit.HasLeft:
		return -o.Visit.LeftG, true // a gram of water is a millilitre
	}
	return 0, false
}

func leftBehind(o Observation) (float64, bool) {
	switch {
	case o.Count != nil && o.Count.Quantity == home.Deposit:
		return max(0, o.Count.Value), true
	case o.Box && o.Visit != nil && o.Visit.HasLeft:
		return max(0, o.Visit.LeftG), true
	}
	return 0, false
}

func (m *amount) kind() home.Sign { return m.sign }

func (m *amount) step(o Observation) verdict {
	x, ok := m.of(o)
	if !ok || math.IsNaN(x) {
		return verdict{}
	}
	v := m.tick(o.Time())
	m.daily.add(o.Time(), x)
	return v
}

func (m *amount) wake(time.Time) time.Time {
	if m.daily.last.IsZero() {
		return time.Time{}
	}
	return midnight(m.daily.day + 1)
}

func (m *amount) tick(now time.Time) verdict {
	if m.daily.last.IsZero() || !m.daily.closeBefore(dayOf(now)) {
		return verdict{}
	}
	if diet := m.care.last(home.DietChange, now); diet.After(m.fresh) {
		m.fresh, m.daily.values = diet, nil
		if m.open != nil {
			m.open = nil
			return clearAs(home.LearnedAnew)
		}
	}
	if m.open != nil {
		return m.follow()
	}
	if m.names != nil && !m.names.clearly(now) {
		return verdict{}
	}
	move, ok := m.daily.moved(m.matters)
	if !ok || math.Abs(move.z) < movedZ {
		return verdict{}
	}
	m.before, m.calm = move.before, 0
	f := m.finding(move, now)
	m.open = &f
	return foundAs(f)
}

func (m *amount) matters(ratio float64) bool {
	if m.least > 1 {
		return ratio >= m.least
	}
	return ratio <= m.least
}

// follow keeps an open finding up to date, or closes it once the days are nearer
// to the usual than half way, for some days in a row.
func (m *amount) follow() verdict {
	newer, _ := m.daily.newest(7, 0, 0)
	today := newer[len(newer)-1]
	half := m.before * (1 + m.least) / 2
	switch {
	case math.IsNaN(today):
		return verdict{}
	case m.least > 1 && today < half, m.least < 1 && today > half:
		m.calm++
	default:
		m.calm = 0
	}
	if m.calm >= movedCalm {
		m.open = nil
		return clearAs(m.words.cleared)
	}
	return verdict{}
}

func (m *amount) finding(move movement, now time.Time) home.Finding {
	onset := now.Add(-7 * oneDay)
	f := home.Finding{
		Urgency: home.Book, Onset: onset, OnsetLo: onset.Add(-7 * oneDay), OnsetHi: onset,
		ChangePct: 100 * (move.ratio() - 1), Before: move.before, After: move.after, LevelUnit: m.words.unit + "/day",
		Data: move.days, Warnings: []string{m.words.warn},
	}
	f.Text = m.words.text(f)
	return f
}

func (m *amount) outlook(time.Time, *home.Outlook) {}
