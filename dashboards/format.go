package dashboards

import (
	"fmt"
	"html/template"
	"math"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"weighbeam/home"
)

// format writes numbers and times the way this house reads them.
type format struct {
	zone   *time.Location
	pounds bool
}

const poundKg = 0.45359237 // exact by definition

func (f format) funcs() template.FuncMap {
	return template.FuncMap{
		"sign": signWords, "turn": turnWords, "state": stateWords,
		"source": sourceWords, "said": saidWords, "date": f.date, "clock": f.clock, "stamp": f.stamp, "second": f.second,
		"way":     wayWords,
		"reachBy": reachWords, "least": leastWords,
		"kind": kindWords, "payload": payloadWords, "unit": unitWords,
		"chartAt": chartAt, "outline": outline,
	}
}

func (f format) unit() string {
	if f.pounds {
		return "lb"
	}
	return "kg"
}

// weight turns kg into the unit shown.
func (f format) weight(kg float64) float64 {
	if f.pounds {
		return kg / poundKg
	}
	return kg
}

func (f format) mass(kg float64) string { return number(f.weight(kg), 2) + " " + f.unit() }

// number writes v with a real minus sign, and a zero without any sign.
func number(v float64, decimals int) string {
	s := fmt.Sprintf("%.*f", decimals, math.Abs(v))
	if v < 0 && strings.Trim(s, "0.") != "" {
		return "−" + s
	}
	return s
}

// signed is number with a plus sign where it rises.
func signed(v float64, decimals int) string {
	s := number(v, decimals)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}

// figure is a value with its interval, as the pages show it.
type figure struct {
	Known    bool
	Value    string // with its unit
	Interval string // "4.21 to 4.35", "" where there is none
	Why      string // where it is not known
}

func (f format) weightFigure(v home.Figure) figure {
	return interval(v.Known, f.weight(v.Value), f.weight(v.Lo), f.weight(v.Hi), 2, " "+f.unit(), number)
}

func breathFigure(v home.Figure) figure {
	return interval(v.Known, v.Value, v.Lo, v.Hi, 0, " a minute", number)
}

func changeFigure(c home.Change) figure {
	return interval(c.Known, c.Pct, c.Lo, c.Hi, 1, " %", signed)
}

func interval(known bool, v, lo, hi float64, decimals int, unit string, write func(float64, int) string) figure {
	if !known {
		return figure{}
	}
	out := figure{Known: true, Value: write(v, decimals) + unit}
	if lo < hi {
		out.Interval = write(lo, decimals) + " to " + write(hi, decimals)
	}
	return out
}

func (f format) date(t time.Time) string {
	if t.IsZero() {
		return "never"
	}
	return t.In(f.zone).Format("2 Jan 2006")
}

func (f format) clock(t time.Time) string {
	if t.IsZero() {
		return "never"
	}
	return t.In(f.zone).Format("2 Jan 2006, 15:04")
}

// second is a time of day, with the day where that is not plain.
func (f format) second(t time.Time) string { return t.In(f.zone).Format("2 Jan, 15:04:05") }

// stamp is a time for a machine.
func (f format) stamp(t time.Time) string { return t.In(f.zone).Format(time.RFC3339) }

func upperFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// ago is how long before now t was, in the largest unit that fits.
func ago(now, t time.Time) string {
	d := now.Sub(t)
	switch {
	case t.IsZero():
		return "never"
	case d < -time.Minute:
		return "ahead of the clock of this house"
	case d < time.Minute:
		return "just now"
	case d < time.Hour:
		return plural(int(d.Minutes()), "minute") + " ago"
	case d < 48*time.Hour:
		return plural(int(d.Hours()), "hour") + " ago"
	}
	return plural(int(d.Hours()/24), "day") + " ago"
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// age is how old the cat is at now, as well as it is known.
func age(c home.Cat, now time.Time) string {
	if c.Born.IsZero() {
		return ""
	}
	years := now.Year() - c.Born.Year()
	if c.BornYear {
		return fmt.Sprintf("about %s old", plural(years, "year"))
	}
	if now.YearDay() < time.Date(now.Year(), c.Born.Month(), c.Born.Day(), 0, 0, 0, 0, time.UTC).YearDay() {
		years--
	}
	if years < 2 {
		return plural(int(now.Sub(c.Born).Hours()/24/30.44), "month") + " old"
	}
	return plural(years, "year") + " old"
}
