package chart

import (
	"math"
	"strconv"
	"time"

	"gonum.org/v1/plot"
)

func unix(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }

// stride is a step of the calendar.
type stride struct{ years, months, days int }

var strides = []stride{
	{days: 1}, {days: 2}, {days: 7}, {days: 14},
	{months: 1}, {months: 2}, {months: 3}, {months: 6},
	{years: 1}, {years: 2}, {years: 5}, {years: 10},
}

// timeTicks marks round dates of the calendar in zone, at most most of them.
func timeTicks(from, to time.Time, zone *time.Location, most int) []plot.Tick {
	if zone == nil {
		zone = time.UTC
	}
	for i, s := range strides {
		days := float64(s.years)*365.25 + float64(s.months)*30.44 + float64(s.days)
		if to.Sub(from).Hours()/24/days <= float64(most) || i == len(strides)-1 {
			return s.ticks(from.In(zone), to.In(zone))
		}
	}
	return nil
}

func (s stride) ticks(from, to time.Time) []plot.Tick {
	var out []plot.Tick
	for t := s.start(from); !t.After(to); t = t.AddDate(s.years, s.months, s.days) {
		if !t.Before(from) {
			out = append(out, plot.Tick{Value: unix(t), Label: s.label(t)})
		}
	}
	return out
}

// start is the last round date not after from.
func (s stride) start(from time.Time) time.Time {
	y, m, d := from.Date()
	switch {
	case s.years > 0:
		return time.Date(y-y%s.years, 1, 1, 0, 0, 0, 0, from.Location())
	case s.months > 0:
		return time.Date(y, 1+(m-1)/time.Month(s.months)*time.Month(s.months), 1, 0, 0, 0, 0, from.Location())
	case s.days >= 7:
		monday := (int(from.Weekday()) + 6) % 7
		return time.Date(y, m, d-monday, 0, 0, 0, 0, from.Location())
	}
	return time.Date(y, m, d, 0, 0, 0, 0, from.Location())
}

func (s stride) label(t time.Time) string {
	switch {
	case s.years > 0:
		return t.Format("2006")
	case s.months > 0 && t.Month() == time.January:
		return t.Format("Jan 2006")
	case s.months > 0:
		return t.Format("Jan")
	}
	return t.Format("2 Jan")
}

// valueTicks marks round values inside frame, about most of them; the topmost
// carries the unit.
func valueTicks(frame Range, most int, unit string) []plot.Tick {
	step, decimals := round((frame.Hi - frame.Lo) / float64(max(most, 2)))
	var out []plot.Tick
	for k := math.Ceil(frame.Lo / step); k*step <= frame.Hi; k++ {
		k += 0 // never "-0"
		out = append(out, plot.Tick{Value: k * step, Label: strconv.FormatFloat(k*step, 'f', decimals, 64)})
	}
	if n := len(out); n > 0 && unit != "" {
		out[n-1].Label += " " + unit
	}
	return out
}

// round is the least of 1, 2 and 5 times a power of ten that is not below v,
// and how many decimals it needs.
func round(v float64) (step float64, decimals int) {
	exp := int(math.Floor(math.Log10(v)))
	base := math.Pow(10, float64(exp))
	for _, m := range []float64{1, 2, 5} {
		if m*base >= v {
			return m * base, max(0, -exp)
		}
	}
	return 10 * base, max(0, -exp-1)
}
