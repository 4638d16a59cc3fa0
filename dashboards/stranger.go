package dashboards

import (
	"context"
	"time"

	"weighbeam/home"
)

// strangersView says whose readings are taken though the household does not know them.
type strangersView struct {
	Scales, Cats []strangerRow
	Edit         bool // there is a page to add them on
}

type strangerRow struct{ ID, From, Readings, Last string }

// strangers is nil where everybody is known.
func (p *pages) strangers(ctx context.Context, h home.Household, sources []home.SourceStatus, now time.Time) (*strangersView, error) {
	named, err := p.store.NamedCats(ctx, h, now.Add(-home.StrangerFor))
	if err != nil {
		return nil, err
	}
	scales, cats := h.Strangers(sources, named, now)
	if len(scales) == 0 && len(cats) == 0 {
		return nil, nil
	}
	v := &strangersView{Edit: p.opts.Householder != nil}
	for _, s := range scales {
		v.Scales = append(v.Scales, strangerRow{s.Source, s.Source, plural(int(s.Count), "reading"), ago(now, s.Last)})
	}
	for _, c := range cats {
		from := "of " + c.Source
		if c.Source == home.Hand || c.Source == home.Clinic {
			from = sourceWords(c.Source)
		}
		v.Cats = append(v.Cats, strangerRow{c.Cat, from, plural(int(c.Count), "reading"), ago(now, c.Last)})
	}
	return v, nil
}
