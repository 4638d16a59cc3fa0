package carry

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
	"weighbeam/store/mirror/history"
)

// ImportSeries is what an import would make of rows that go together.
type ImportSeries struct {
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
func SurveyHistory(ctx context.Context, h home.Household, cfg history.Config, query string, m history.Mapping, now time.Time, told func(row int, err error)) ([]ImportSeries, error) {
	if err := m.Valid(); err != nil {
		return nil, err
	}
	s := survey{house: h}
	n := 0
	err := history.Each(ctx, cfg, query, func(row history.Row) error {
		n++
		r, err := m.Reading(row, now)
		if err = cmp.Or(err, past(now, r.Time)); err != nil {
			told(n, err)
		} else {
			s.take(r)
		}
		return ctx.Err()
	})
	return s.all, err
}

// SurveyFiles says what Import would make of readings CSV, and stores nothing.
func SurveyFiles(ctx context.Context, h home.Household, paths []string, now time.Time, told func(file string, line int, err error)) ([]ImportSeries, error) {
	s := survey{house: h}
	var unread []error
	for _, path := range paths {
		if strings.HasSuffix(path, ".jsonl") {
			return nil, home.Hinted("import", "Look at a readings CSV so, or import the export into a new store with --data.", "%s is no readings CSV", path)
		}
		f, err := os.Open(path)
		if err != nil {
			return nil, &home.Error{Op: "import", Hint: "Give the path of a readings CSV.", Err: err}
		}
		name := filepath.Base(path)
		err = eachRow(name, f, now, func(r home.Reading) error { s.take(r); return ctx.Err() },
			func(line int, _ string, err error) error { told(name, line, err); return ctx.Err() })
		f.Close() // it was only read
		var of *fileError
		switch {
		case errors.As(err, &of):
			unread = append(unread, err)
		case err != nil:
			return nil, err
		}
	}
	return s.all, errors.Join(unread...)
}

// survey gathers what an import would take.
type survey struct {
	house home.Household
	all   []ImportSeries
}

func (s *survey) take(r home.Reading) {
	i := slices.IndexFunc(s.all, func(o ImportSeries) bool {
		return o.Source == r.Source && o.Quantity == r.Quantity && o.Cat == r.Cat
	})
	if i < 0 {
		i = len(s.all)
		s.all = append(s.all, ImportSeries{Source: r.Source, Quantity: r.Quantity, Cat: r.Cat, Unit: r.Quantity.Unit(), First: r.Time, Least: r.Value, Most: r.Value, InTheHouse: lives(s.house, r)})
	}
	s.all[i].take(r)
}

func (s *ImportSeries) take(r home.Reading) {
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
func (s ImportSeries) String() string {
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
