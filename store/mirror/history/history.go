// Package history reads a history out of a time-series engine that answers queries in
// Flux. A row that cannot be a reading is an error of that row and stops nothing; the
// query stands on the engine, which is asked to change nothing.
package history

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	influxdb2 "github.com/influxdata/influxdb-client-go/v2"

	"weighbeam/home"
)

// Config is where the engine is.
type Config struct {
	URL   string // http or https
	Token string // secret
	Org   string
}

// Row is one row of an answer: its columns by name, _time and _value among them.
type Row map[string]any

// Each runs a query and calls f with each row, in the order of the engine. It ends
// with the first error of f.
func Each(ctx context.Context, cfg Config, query string, f func(Row) error) error {
	const op = "ask the engine"
	client := influxdb2.NewClient(cfg.URL, cfg.Token)
	defer client.Close()
	answer, err := client.QueryAPI(cfg.Org).Query(ctx, query)
	if err != nil {
		return &home.Error{Op: op, Err: err, Hint: "Check the address, the token and the organisation, and try the query in the engine's own tool."}
	}
	defer answer.Close()
	for answer.Next() {
		if err := f(answer.Record().Values()); err != nil {
			return err
		}
	}
	if err := answer.Err(); err != nil {
		return &home.Error{Op: op, Err: err, Hint: "What came before is stored. Run it again: nothing is taken twice."}
	}
	return nil
}

// Mapping says what the rows are. Each is either the text itself or @COLUMN, the
// column that holds it.
type Mapping struct {
	Source   string // id of a scale, or "hand"
	Quantity string // as "weight"
	Unit     string // UCUM; empty: that of the quantity
	Cat      string // id; empty: nobody is named
}

// Valid returns nil if readings can be made by m, or what is missing.
func (m Mapping) Valid() error {
	if m.Source == "" || m.Quantity == "" {
		return home.Hinted("map the rows", "Name them with --source and --quantity: the text itself, or @COLUMN.", "it is not said of which scale the rows are, and what they are")
	}
	return nil
}

// Reading makes a reading of a row that arrived now. The error says what of the row
// is wrong.
func (m Mapping) Reading(row Row, now time.Time) (home.Reading, error) {
	at, ok := row["_time"].(time.Time)
	if !ok {
		return home.Reading{}, errors.New("it has no _time")
	}
	value, err := number(row["_value"])
	if err != nil {
		return home.Reading{}, err
	}
	text := map[string]string{}
	for what, from := range map[string]string{"source": m.Source, "quantity": m.Quantity, "unit": m.Unit, "cat": m.Cat} {
		if text[what], err = row.text(from); err != nil {
			return home.Reading{}, fmt.Errorf("%s: %w", what, err)
		}
	}
	r := home.Reading{Source: text["source"], Quantity: home.Quantity(text["quantity"]), Cat: text["cat"], Time: at, Arrived: now, Clock: home.ByDevice}
	if r.Source == home.Hand {
		r.Clock = home.ByHand
	}
	unit := text["unit"]
	if unit == "" {
		unit = r.Quantity.Unit()
	}
	if r.Value, err = home.Convert(value, unit, r.Quantity); err != nil {
		return r, err
	}
	r = r.Normal()
	return r, r.Valid()
}

// text is from itself, or what the row has in the column it names.
func (r Row) text(from string) (string, error) {
	column, named := strings.CutPrefix(from, "@")
	if !named {
		return from, nil
	}
	switch v := r[column].(type) {
	case nil:
		return "", fmt.Errorf("the row has no column %q", column)
	case string:
		return v, nil
	default:
		return fmt.Sprint(v), nil
	}
}

func number(v any) (float64, error) {
	switch v := v.(type) {
	case float64:
		return v, nil
	case int64:
		return float64(v), nil
	case uint64:
		return float64(v), nil
	case string:
		if f, err := strconv.ParseFloat(v, 64); err == nil {
			return f, nil
		}
	}
	return 0, fmt.Errorf("_value %v is no number", v)
}
