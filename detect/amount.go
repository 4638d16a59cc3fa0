package detect

import (
	"math"
	"time"

	"weighbeam/detect/stat"
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
	care  *cares
	daily daily
	sign  home.Sign
	of    func(o Observation) (float64, bool)
	least float64  // ratio of after to before from which it matters: over 1 for a rise, under for a fall
	names *weights // whose names must be sure enough; nil where that does not matter
	body  *weights // whose body mass a published line goes by; nil where there is no line
	words amountWords
	open  *home.Finding
	calm  int       // days in a row that are near the usual again
	turn  float64   // amount a day from which the open finding is nearly over
	fresh time.Time // when the usual began anew
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
	movedCalm = 5     // days
	mostDrunk = 100.0 // mL a day for each kg (clinic texts)
)

// newDrinkingMore finds a cat that drinks more: a half more than is its usual, or more
// than the line that clinics go by (mostDrunk), which tells of one that has done so
// from the first day on.
func newDrinkingMore(care *cares, w *weights) *amount {
	return &amount{care: care, sign: home.DrinkingMore, of: drunk, least: 1.4, body: w,
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
	if ok && math.Abs(move.z) >= movedZ {
		return m.found(move, m.half(move.before), m.words.text, now)
	}
	if move, ok := m.overLine(); ok {
		return m.found(move, move.before, overLineText, now)
	}
	return verdict{}
}

// half is half way from the usual to what matters.
func (m *amount) half(usual float64) float64 { return usual * (1 + m.least) / 2 }

// overLine compares the last week with the published line for the cat's mass: all of
// its days but one must be over it.
func (m *amount) overLine() (move movement, ok bool) {
	if m.body == nil {
		return move, false
	}
	kg, ok := m.body.mass()
	newer, _ := m.daily.newest(7, 0, 0)
	if !ok || known(newer) < 5 {
		return move, false
	}
	move = movement{before: mostDrunk * kg, after: stat.Median(present(newer)), days: known(newer)}
	over := 0
	for _, v := range newer {
		if v > move.before {
			over++
		}
	}
	return move, over >= move.days-1
}

func (m *amount) found(move movement, turn float64, text func(home.Finding) string, now time.Time) verdict {
	m.turn, m.calm = turn, 0
	f := m.finding(move, now)
	f.Text = text(f)
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
// to the usual than half way, or under the line, for some days in a row.
func (m *amount) follow() verdict {
	newer, _ := m.daily.newest(7, 0, 0)
	today := newer[len(newer)-1]
	switch {
	case math.IsNaN(today):
		return verdict{}
	case m.least > 1 && today < m.turn, m.least < 1 && today > m.turn:
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
	return home.Finding{
		Urgency: home.Book, Onset: onset, OnsetLo: onset.Add(-7 * oneDay), OnsetHi: onset,
		ChangePct: 100 * (move.ratio() - 1), Before: move.before, After: move.after, LevelUnit: m.words.unit + "/day",
		Data: move.days, Warnings: []string{m.words.warn},
	}
}

func (m *amount) outlook(time.Time, *home.Outlook) {}
