package dashboards

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
)

type sourceRow struct {
	ID, Name, Kind, Last string
	Good                 string // how good it is, by its calibration; "" where nobody knows
	Battery              string // "" where it never said
	Arrived, Stored      string // when the newest did; "" where that is not known
	Count                int64
	When                 time.Time
	Page                 bool
}

func sourceRows(h home.Household, heard []home.SourceStatus, now time.Time) []sourceRow {
	var rows []sourceRow
	for _, s := range heard {
		scale, _ := h.Scale(s.Source)
		row := sourceRow{ID: s.Source, Name: sourceWords(s.Source), Kind: kindWords(scale.Kind), Last: ago(now, s.Last), Count: s.Count, When: s.Last, Page: true}
		row.Arrived, row.Stored = cameIn(s, now)
		if !s.BatteryAt.IsZero() {
			row.Battery = batteryWords(s.Battery)
		}
		if s.Source == home.Hand || s.Source == home.Clinic {
			row.Kind, row.Page = "a person", false
		}
		rows = append(rows, row)
	}
	for _, s := range h.Scales {
		if !slices.ContainsFunc(heard, func(x home.SourceStatus) bool { return x.Source == s.ID }) {
			rows = append(rows, sourceRow{ID: s.ID, Name: s.ID, Kind: kindWords(s.Kind), Last: "never", Page: true})
		}
	}
	slices.SortFunc(rows, func(a, b sourceRow) int { return strings.Compare(a.ID, b.ID) })
	return rows
}

// cameIn says when what a source sent last reached the house, and how long after that
// it was stored.
func cameIn(s home.SourceStatus, now time.Time) (arrived, stored string) {
	if !s.Arrived.IsZero() {
		arrived = ago(now, s.Arrived)
	}
	if s.Stored.Before(s.Arrived) { // not known, or by a clock that was set back
		return arrived, ""
	}
	if late := s.Stored.Sub(s.Arrived); late >= 50*time.Millisecond {
		return arrived, gap(late) + " after that"
	}
	return arrived, "at once"
}

// batteryWords is the charge of a device; one that will soon be silent says so.
func batteryWords(percent float64) string {
	if percent <= lowBattery {
		return fmt.Sprintf("%.0f %%: charge it", percent)
	}
	return fmt.Sprintf("%.0f %%", percent)
}

// lowBattery is a choice of this program: days, of most devices.
const lowBattery = 15

// goodTo is how good a scale was found to be last, "" where nobody looked.
func (p *pages) goodTo(ctx context.Context, source string) (string, error) {
	if p.opts.Bench == nil {
		return "", nil
	}
	all, err := p.opts.Bench.Calibrations(ctx, source)
	if err != nil || len(all) == 0 {
		return "", err
	}
	return all[len(all)-1].Verdict(), nil
}
