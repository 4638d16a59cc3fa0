package dashboards

import (
	"slices"
	"time"
)

// tableRow is a day, week or month of a series.
type tableRow struct {
	When                string
	N                   int
	Middle, Least, Most string
}

// table is what stands behind a chart. It groups, because a year of weighings
// is more rows than anyone reads; the CSV holds each reading.
type table struct {
	Each string // "day", "week" or "month"
	By   string // the heading of its column
	Unit string
	Rows []tableRow // newest first
}

// grouping is how the rows of a table are cut.
type grouping struct {
	each, by, layout string
	start            func(time.Time) time.Time // of the group that a local time falls in
}

var (
	byDay   = grouping{"day", "Day", "2 Jan 2006", midnight}
	byWeek  = grouping{"week", "Week from", "2 Jan 2006", monday}
	byMonth = grouping{"month", "Month", "Jan 2006", func(t time.Time) time.Time { return midnight(t.AddDate(0, 0, 1-t.Day())) }}
)

func midnight(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, t.Location())
}

func monday(t time.Time) time.Time {
	return midnight(t.AddDate(0, 0, -(int(t.Weekday())+6)%7))
}

// table groups by a length that keeps it under about fifty rows for every
// period but the very longest.
func (s series) table(zone *time.Location) table {
	switch days := s.picture.To.Sub(s.picture.From).Hours() / 24; {
	case days <= 50:
		return s.tableBy(zone, byDay)
	case days <= 370:
		return s.tableBy(zone, byWeek)
	}
	return s.tableBy(zone, byMonth)
}

func (s series) tableBy(zone *time.Location, g grouping) table {
	t := table{Each: g.each, By: g.by, Unit: s.unit}
	write := func(v float64) string { return number(v, s.decimals) }
	for i := len(s.readings) - 1; i >= 0; {
		group := g.start(s.readings[i].Time.In(zone))
		var vs []float64
		for ; i >= 0 && !s.readings[i].Time.Before(group); i-- {
			vs = append(vs, s.values[i])
		}
		t.Rows = append(t.Rows, tableRow{group.Format(g.layout), len(vs), write(middle(vs)), write(slices.Min(vs)), write(slices.Max(vs))})
	}
	return t
}
