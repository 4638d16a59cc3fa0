package app

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"weighbeam/home"
	"weighbeam/store"
	"weighbeam/store/mirror/history"
)

// HistoryConfig is the engine of [influx], for reading.
func (c Config) HistoryConfig() (history.Config, error) {
	if c.Influx == nil {
		return history.Config{}, home.Hinted("import", "Write url and token_file under [influx], or name a settings file with --config.", "the settings name no engine")
	}
	token, err := secret(c.Influx.TokenFile)
	return history.Config{URL: c.Influx.URL, Token: token, Org: c.Influx.Org}, err
}

// ImportHistory takes the rows that an engine answers into the store. A row that can be
// no reading is set aside and told; the rest is used.
func ImportHistory(ctx context.Context, db *store.DB, cfg history.Config, query string, m history.Mapping, now time.Time, told func(file string, row int, err error)) (Imported, error) {
	if err := m.Valid(); err != nil {
		return Imported{}, err
	}
	in := importer{db: db, now: now, told: told}
	n := 0
	err := history.Each(ctx, cfg, query, func(row history.Row) error {
		n++
		r, err := m.Reading(row, now)
		if err != nil {
			text, _ := json.Marshal(row) // of strings, numbers and times
			in.bad("query", n, text, err)
		} else {
			in.batch.Readings = append(in.batch.Readings, r)
		}
		return in.row(ctx)
	})
	return in.done, firstOf(in.flush(ctx), err)
}

// HistorySeries is what an import would make of rows that go together.
type HistorySeries struct {
	Source     string        `json:"source"`
	Quantity   home.Quantity `json:"quantity"`
	Cat        string        `json:"cat,omitempty"`
	Rows       int           `json:"rows"`
	First      time.Time     `json:"first"`
	Last       time.Time     `json:"last"`
	Least      float64       `json:"least"` // in Unit
	Most       float64       `json:"most"`
	Unit       string        `json:"unit"` // UCUM
	InTheHouse bool          `json:"in_the_house"`
}

// SurveyHistory says what ImportHistory would make of an answer, and stores nothing.
func SurveyHistory(ctx context.Context, h home.Household, cfg history.Config, query string, m history.Mapping, now time.Time, told func(row int, err error)) ([]HistorySeries, error) {
	if err := m.Valid(); err != nil {
		return nil, err
	}
	var all []HistorySeries
	n := 0
	err := history.Each(ctx, cfg, query, func(row history.Row) error {
		n++
		r, err := m.Reading(row, now)
		if err != nil {
			told(n, err)
			return ctx.Err()
		}
		i := slices.IndexFunc(all, func(s HistorySeries) bool {
			return s.Source == r.Source && s.Quantity == r.Quantity && s.Cat == r.Cat
		})
		if i < 0 {
			i = len(all)
			all = append(all, HistorySeries{Source: r.Source, Quantity: r.Quantity, Cat: r.Cat, Unit: r.Quantity.Unit(), First: r.Time, Least: r.Value, Most: r.Value, InTheHouse: lives(h, r)})
		}
		all[i].take(r)
		return ctx.Err()
	})
	return all, err
}

func (s *HistorySeries) take(r home.Reading) {
	s.Rows++
	if r.Time.Before(s.First) {
		s.First = r.Time
	}
	if r.Time.After(s.Last) {
		s.Last = r.Time
	}
	s.Least, s.Most = min(s.Least, r.Value), max(s.Most, r.Value)
}

// lives reports whether the household knows the scale and the cat of r.
func lives(h home.Household, r home.Reading) bool {
	_, scale := h.Scale(r.Source)
	_, cat := h.Cat(r.Cat)
	return (scale || r.Source == home.Hand || r.Source == home.Clinic) && (cat || r.Cat == "")
}

// String is the series as one line.
func (s HistorySeries) String() string {
	whose, known := "", ""
	if s.Cat != "" {
		whose = " of " + s.Cat
	}
	if !s.InTheHouse {
		known = "; the household does not know it"
	}
	return fmt.Sprintf("%s %s%s: %d rows from %s to %s, %.4g to %.4g %s%s", s.Source, s.Quantity, whose, s.Rows,
		s.First.Format(time.DateOnly), s.Last.Format(time.DateOnly), s.Least, s.Most, s.Unit, known)
}
