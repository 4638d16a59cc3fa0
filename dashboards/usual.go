package dashboards

import (
	"slices"
	"time"

	"gonum.org/v1/gonum/stat"

	"weighbeam/dashboards/chart"
	"weighbeam/home"
)

// The usual range is where nine in ten readings lay over half a year that ends
// before the change that is open, or four weeks ago where none is. Fewer than
// usualLeast readings give no range: a tenth of them would be one or two.
const (
	usualDays  = 183
	usualUntil = 28
	usualLeast = 20
)

// usualSpan is the time over which the usual range is taken.
func usualSpan(open []home.Finding, now time.Time) (from, to time.Time) {
	to = now.AddDate(0, 0, -usualUntil)
	for _, f := range open {
		if !f.OnsetLo.IsZero() && f.OnsetLo.Before(to) {
			to = f.OnsetLo
		}
	}
	return to.AddDate(0, 0, -usualDays), to
}

// usualRange is the range of values in a span, none where there are too few.
func usualRange(ms []chart.Mark, from, to time.Time) chart.Range {
	var vs []float64
	for _, m := range ms {
		if !m.Time.Before(from) && m.Time.Before(to) {
			vs = append(vs, m.Value)
		}
	}
	if len(vs) < usualLeast {
		return chart.Range{}
	}
	slices.Sort(vs)
	return chart.Range{
		Lo: stat.Quantile(0.05, stat.LinInterp, vs, nil),
		Hi: stat.Quantile(0.95, stat.LinInterp, vs, nil),
	}
}
