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
	By   string // "Day", "Week from" or "Month"
	Unit string
	Rows []tableRow // newest first
}

func (s series) table(zone *time.Location) table {
	by, start, layout := grouping(s.picture.To.Sub(s.picture.From))
	t := table{By: by, Unit: s.unit}
	for i := len(s.readings) - 1; i >= 0; {
		group := start(s.readings[i].Time.In(zone))
		var vs []float64
		for ; i >= 0 && start(s.readings[i].Time.In(zone)).Equal(group); i-- {
			vs = append(vs, s.values[i])
		}
		slices.Sort(vs)
		write := func(v float64) string { return number(v, s.decimals) }
		t.Rows = append(t.Rows, tableRow{group.Format(layout), len(vs), write(vs[len(vs)/2]), write(vs[0]), write(vs[len(vs)-1])})
	}
	return t
}

// grouping chooses rows of a length that keeps a table under about fifty rows
// for every period but the very longest.
func grouping(span time.Duration) (by string, start func(time.Time) time.Time, layout string) {
	day := func(t time.Time) time.Time {
		return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, t.Location())
	}
	switch days := span.Hours() / 24; {
	case days <= 50:
		return "Day", day, "2 Jan 2006"
	case days <= 370:
		return "Week from", func(t time.Time) time.Time {
			return day(t.AddDate(0, 0, -(int(t.Weekday())+6)%7))
		}, "2 Jan 2006"
	}
	return "Month", func(t time.Time) time.Time {
		return time.Date(t.Year(), t.Month(), 1, 0, 0, 0, 0, t.Location())
	}, "Jan 2006"
}
