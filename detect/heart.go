package detect

import (
	"time"

	"weighbeam/home"
)

// heart finds beats counted at rest that are repeatedly out of 120 to 220 a minute
// (Merck Veterinary Manual, triage table: under 120 and over 220 are abnormal). A
// sleeping cat's heart is slower (132 with a deviation of 19 in undisturbed cats at
// home, Abbott 2005), so only counts of a cat that rests awake are judged, and one
// alone asks for a recount. In a cat that a person finds unwell it cannot wait.
type heart struct {
	recent []rateOf // at rest, newest last
	unwell time.Time
	open   bool
}

const (
	slowHeart, fastHeart = 120.0, 220.0
	heartOf              = 2 // counts in a row out of range, so near each other
	heartSpan            = 48 * time.Hour
	heartCalm            = 2 // counts in a row in range
	unwellFor            = 24 * time.Hour
)

func newHeart() *heart { return &heart{} }

func (h *heart) kind() home.Sign { return home.HeartOutOfRange }

func (h *heart) step(o Observation) verdict {
	if o.Check != nil && looksUnwell(*o.Check) {
		h.unwell = o.Check.Time
		if h.open { // the count of a check comes before its looks
			return foundAs(h.finding(h.recent[len(h.recent)-1]))
		}
	}
	r := o.Count
	if r == nil || r.Retained || r.Quantity != home.Heartbeats || r.State != home.Resting || r.Window <= 0 {
		return verdict{}
	}
	c := rateOfReading(*r)
	if n := len(h.recent); n > 0 && c.at.Sub(h.recent[n-1].at) < separate {
		return verdict{}
	}
	h.recent = append(h.recent, c)
	h.recent = h.recent[max(0, len(h.recent)-max(heartOf, heartCalm)):]
	in, out := 0, 0
	for _, before := range h.recent {
		switch side := sideOf(before); {
		case side == 0:
			in++
		case side == sideOf(c) && c.at.Sub(before.at) <= heartSpan:
			out++ // one too slow and one too fast are two errors rather
		}
	}
	switch {
	case out >= heartOf:
		h.open = true
		return foundAs(h.finding(c))
	case h.open && in >= heartCalm:
		h.open = false
		return clearAs(heartInRange)
	}
	return verdict{}
}

// sideOf is -1 for a count under the range, 1 for one over it, 0 in it.
func sideOf(c rateOf) int {
	switch {
	case c.perMinute < slowHeart:
		return -1
	case c.perMinute > fastHeart:
		return 1
	}
	return 0
}

func (h *heart) finding(c rateOf) home.Finding {
	first := h.recent[0]
	f := home.Finding{Urgency: home.Book, Onset: first.at, OnsetLo: first.at, OnsetHi: first.at,
		After: (first.perMinute + c.perMinute) / 2, LevelUnit: "/min", Data: len(h.recent), Before: slowHeart, Warnings: []string{warnSlowHeart}}
	if f.After > fastHeart {
		f.Before, f.Warnings = fastHeart, []string{warnHeart}
	}
	if !h.unwell.IsZero() && c.at.Sub(h.unwell).Abs() <= unwellFor {
		f.Urgency = home.Today
	}
	f.Text = heartText(f)
	return f
}

func (h *heart) outlook(_ time.Time, out *home.Outlook) {
	if n := len(h.recent); n > 0 && !h.open {
		if c := h.recent[n-1]; sideOf(c) != 0 {
			out.Unknown = append(out.Unknown, recountHeart(c.perMinute))
		}
	}
}

// looksUnwell reports whether a person saw a cat that is not itself.
func looksUnwell(c home.HomeCheck) bool {
	for _, s := range c.Seen {
		if s.Part == home.Alertness && !s.Is(home.Usual) && len(s.Values) > 0 ||
			s.Part == home.Posture && s.Is("hunched") || s.Part == home.Appetite && s.Is("nothing") {
			return true
		}
	}
	return len(c.RedFlags) > 0
}
