package dashboards

import (
	"context"
	"time"

	"weighbeam/home"
)

// unclearRow is a scale with visits of the last days that were given to no cat.
type unclearRow struct{ Source, Visits string }

// unclear lists the scales on whose pages somebody can say whose a visit was.
func (p *pages) unclear(ctx context.Context, h home.Household, now time.Time) ([]unclearRow, error) {
	if !p.opts.Naming {
		return nil, nil
	}
	var rows []unclearRow
	for _, s := range h.Scales {
		visits, err := p.store.Visits(ctx, s.ID, now.Add(-visitsBack), now.Add(time.Second))
		if err != nil {
			return nil, err
		}
		n := 0
		for _, v := range visits {
			if v.Whose == home.Unclear {
				n++
			}
		}
		if n > 0 {
			rows = append(rows, unclearRow{s.ID, plural(n, "visit")})
		}
	}
	return rows, nil
}
