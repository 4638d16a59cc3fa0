package carry

import (
	"cmp"
	"context"
	"encoding/json"
	"time"

	"weighbeam/home"
	"weighbeam/store"
	"weighbeam/store/mirror/history"
)

// ImportHistory takes the rows that an engine answers into the store. A row that can be
// no reading is set aside and told; the rest is used.
func ImportHistory(ctx context.Context, db *store.DB, who Household, cfg history.Config, query string, m history.Mapping, now time.Time, told func(file string, row int, err error)) (Imported, error) {
	if err := m.Valid(); err != nil {
		return Imported{}, err
	}
	in := importer{db: db, house: who, now: now, told: told, who: map[home.Reading]bool{}}
	n := 0
	err := history.Each(ctx, cfg, query, func(row history.Row) error {
		n++
		r, err := m.Reading(row, now)
		if err = cmp.Or(err, past(now, r.Time)); err != nil {
			text, _ := json.Marshal(row) // of strings, numbers and times
			in.bad("query", n, text, err)
		} else {
			in.batch.Readings = append(in.batch.Readings, r)
		}
		return in.row(ctx)
	})
	err = cmp.Or(in.flush(ctx), err, in.strangers(ctx))
	return in.done, err
}
