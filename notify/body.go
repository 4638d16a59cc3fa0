package notify

import (
	"fmt"
	"math"
	"net/url"
	"strings"
	"time"

	"weighbeam/home"
)

// Words is how a house wants things said.
type Words struct {
	Base   string                      // address of the pages, as http://192.168.1.5:8080; "": no link
	Link   func(finding string) string // path of a finding's page; nil: /findings/ID
	Pounds bool                        // lb instead of kg
	Zone   *time.Location              // of the dates; nil: UTC
}

// Body is the message in plain text: what it is about and what to do by when,
// for whoever reads no further; then what changed, by how much, since when, how
// sure, what to watch for, where to look, and [home.Caution]. What is not known
// is left out, never made up.
func (w Words) Body(f home.Finding, cat home.Cat, turn home.Turn) string {
	return w.body(f, cat, turn, "")
}

// body is Body with a link to answer it by; "" for none.
func (w Words) body(f home.Finding, cat home.Cat, turn home.Turn, reply string) string {
	var b strings.Builder
	b.WriteString(opening(f, cat, turn) + "\n\nWhat to do: " + toDo(f, turn) + "\n\n")
	for _, l := range w.lines(f, turn) {
		if l.text != "" {
			fmt.Fprintf(&b, "%s: %s\n", l.name, l.text)
		}
	}
	if reply != "" {
		b.WriteString("To say that it is seen to, that the practice knows, or to be reminded later: " + reply + "\n")
	}
	for _, s := range f.Warnings {
		b.WriteString("Note: " + oneLine(s) + "\n")
	}
	b.WriteString("\n" + home.Caution + "\n")
	return b.String()
}

// line is one line of a body; one without text is left out.
type line struct{ name, text string }

func (w Words) lines(f home.Finding, turn home.Turn) []line {
	facts := []line{
		{"What changed", w.change(f)},
		{"What was found", found(f)},
		{"Since when", w.since(f)},
		{"How fast", pace(f)},
		{"How sure", sure(f)},
	}
	if turn == home.Closed {
		why := "Why it is over"
		if f.Unresolved() {
			why = "Why it is no longer watched"
		}
		facts = append(facts, line{why, oneLine(f.Reason)})
	} else {
		facts = append(facts, line{"Watch for", wordsFor(f).watch + "."})
	}
	return append(facts, line{"Where to look", w.where(f)})
}

// toDo never says that all is well when a sign is gone: that is no all-clear.
func toDo(f home.Finding, turn home.Turn) string {
	switch {
	case turn != home.Closed:
		return deedFor(f).full
	case wordsFor(f).matter == health:
		return "This is no all-clear. If a visit is booked, keep it; if the cat seems unwell, ring your veterinary practice."
	}
	return "Nothing more for this."
}

// change is the level before and after, and the difference in percent.
func (w Words) change(f home.Finding) string {
	if f.Before == 0 && f.After == 0 {
		if f.ChangePct == 0 {
			return ""
		}
		return signed(f.ChangePct) + "."
	}
	before, after := w.level(f.Before, f.LevelUnit), w.level(f.After, f.LevelUnit)
	switch frame := wordsFor(f).frame; {
	case frame == outOfRange:
		return fmt.Sprintf("%s, where the line is %s.", after, before)
	case frame == overLine:
		return fmt.Sprintf("%s on average, over the line of %s.", after, before)
	case frame == reference && f.ChangePct != 0:
		return fmt.Sprintf("%s, that is %s than the reference of %s.", after, signed(f.ChangePct), before)
	case f.ChangePct != 0:
		return fmt.Sprintf("from %s to %s, %s.", before, after, signed(f.ChangePct))
	}
	return fmt.Sprintf("from %s to %s.", before, after)
}

func signed(pct float64) string {
	word := "more"
	if pct < 0 {
		word = "less"
	}
	digits := 1
	if math.Abs(pct) >= 10 {
		digits = 0
	}
	return fmt.Sprintf("%.*f %% %s", digits, math.Abs(pct), word)
}

// perKg is one kilogram in avoirdupois pounds, exact by definition.
const perKg = 1 / 0.45359237

func (w Words) level(v float64, unit string) string {
	switch {
	case unit == "kg" && w.Pounds:
		return fmt.Sprintf("%.2f lb", v*perKg)
	case unit == "kg":
		return fmt.Sprintf("%.2f kg", v)
	case unit == "1/min" || unit == "/min":
		return fmt.Sprintf("%.0f a minute", v)
	case unit == "Cel":
		return fmt.Sprintf("%.1f °C", v)
	case strings.HasSuffix(unit, "/day"):
		return fmt.Sprintf("%.0f %s a day", v, strings.TrimSuffix(unit, "/day"))
	}
	return strings.TrimSpace(fmt.Sprintf("%.4g %s", v, unit))
}

// found is the finding in the detector's own words, where no figures say it.
func found(f home.Finding) string {
	if f.Before != 0 || f.After != 0 || f.ChangePct != 0 {
		return ""
	}
	return oneLine(f.Text)
}

func (w Words) since(f home.Finding) string {
	if f.Onset.IsZero() {
		return ""
	}
	text := "about " + w.date(f.Onset)
	if lo, hi := w.date(f.OnsetLo), w.date(f.OnsetHi); !f.OnsetLo.IsZero() && !f.OnsetHi.IsZero() && lo != hi {
		if year := lo[len(lo)-5:]; strings.HasSuffix(hi, year) {
			lo = strings.TrimSuffix(lo, year)
		}
		text += fmt.Sprintf(" (likely between %s and %s)", lo, hi)
	}
	return text + "."
}

func (w Words) date(t time.Time) string { return t.In(zoneOr(w.Zone)).Format("2 January 2006") }

func pace(f home.Finding) string {
	if f.Rate == 0 && f.RateLo == 0 && f.RateHi == 0 {
		return ""
	}
	unit, digits := "", 2
	switch f.RateUnit {
	case "%/week":
		unit = " % a week"
	case "1/min/week":
		unit, digits = " breaths a minute more each week", 1
	case "":
		return ""
	default:
		unit = " " + f.RateUnit
	}
	rate, lo, hi := f.Rate, f.RateLo, f.RateHi
	if f.RateUnit == "%/week" && rate < 0 { // said as a loss, so nobody has to read a minus sign
		rate, lo, hi, unit = -rate, -hi, -lo, " % a week lost"
	}
	text := fmt.Sprintf("%.*f%s", digits, rate, unit)
	if lo != hi {
		text += fmt.Sprintf(" (likely between %.*f and %.*f)", digits, lo, digits, hi)
	}
	return text + "."
}

// sure never says certain: a share of 1 is written as more than 99 %. What a
// person saw with their own eyes has no share.
func sure(f home.Finding) string {
	w := wordsFor(f)
	if w.one == "" {
		return ""
	}
	rests := fmt.Sprintf("%d %s", f.Data, plural(f.Data, w.one, w.many))
	share := fmt.Sprintf("about %.0f %%", math.Floor(f.Confidence*100))
	if f.Confidence > 0.99 {
		share = "more than 99 %"
	}
	switch {
	case f.Confidence <= 0 && f.Data == 0:
		return ""
	case f.Confidence <= 0:
		return "it rests on " + rests + "."
	case f.Data == 0:
		return share + "."
	}
	return share + ", from " + rests + "."
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

func (w Words) where(f home.Finding) string {
	if w.Base == "" {
		return ""
	}
	path := (&url.URL{Path: "/findings/" + f.ID()}).EscapedPath()
	if w.Link != nil {
		path = w.Link(f.ID())
	}
	return strings.TrimSuffix(w.Base, "/") + path
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
