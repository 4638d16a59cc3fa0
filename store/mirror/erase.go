package mirror

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	influxhttp "github.com/influxdata/influxdb-client-go/v2/api/http"

	"weighbeam/home"
)

// errNoDeletion says that the engine knows none.
var errNoDeletion = errors.New("the engine knows no deletion")

// takeBack takes the readings out of the engine that an entry is about and that a
// person took back. What stands at the same moment goes with them; the entry itself
// writes it after that, so that doing all of it again ends the same.
func (m *Mirror) takeBack(ctx context.Context, e home.Entry, put put) error {
	if e.Matter != home.OfReading || e.Source != home.Hand && e.Source != home.Clinic {
		return nil // only what people entered is ever taken back
	}
	gone, err := m.store.Withdrawn(ctx, e.Source, e.Quantity, e.From, e.To.Add(home.TimeStep))
	if err != nil || len(gone) == 0 {
		return err
	}
	for _, r := range gone {
		err := m.erase(ctx, "reading", r.Time, r.Time, "source", r.Source, "quantity", string(r.Quantity), "cat", r.Cat)
		if errors.Is(err, errNoDeletion) {
			err = put(ctx, m.reading(r).AddField("withdrawn", 1))
		}
		if err != nil {
			return err
		}
	}
	if e.Quantity == home.Weight {
		m.trend.clear(e.Cat)
	}
	return nil
}

// erase deletes the points of one measurement with the given tags, name after name
// and value after value, from one time to another, both included.
func (m *Mirror) erase(ctx context.Context, measurement string, from, to time.Time, tags ...string) error {
	if m.cfg.Site != "" {
		tags = append(tags, "site", m.cfg.Site)
	}
	err := m.eraseV2(ctx, measurement, from, to, tags)
	if errors.Is(err, errNoDeletion) {
		err = m.eraseV1(ctx, measurement, from, to, tags)
	}
	if err != nil && !errors.Is(err, errNoDeletion) {
		err = &home.Error{Op: "delete from the mirror", Err: err, Hint: "See that the token under [influx] may delete. The mirror tries again."}
	}
	return err
}

// eraseV2 asks as one asks an InfluxDB 2.
func (m *Mirror) eraseV2(ctx context.Context, measurement string, from, to time.Time, tags []string) error {
	where := []string{fmt.Sprintf("_measurement=%q", measurement)}
	for pair := range slices.Chunk(tags, 2) {
		where = append(where, fmt.Sprintf("%s=%q", pair[0], pair[1]))
	}
	body, err := json.Marshal(map[string]string{"start": from.Format(time.RFC3339Nano), "predicate": strings.Join(where, " AND "),
		// Whether the end belongs to it or not: points are whole microseconds.
		"stop": to.Add(time.Nanosecond).Format(time.RFC3339Nano)})
	if err != nil {
		return err
	}
	at := m.client.HTTPService().ServerAPIURL() + "delete?" + url.Values{"org": {m.cfg.Org}, "bucket": {m.cfg.Bucket}}.Encode()
	return m.ask(ctx, at, "application/json", string(body), nil)
}

// eraseV1 asks as one asks an InfluxDB 1.8. Others answer what they do not understand
// with something else, and in good cheer.
func (m *Mirror) eraseV1(ctx context.Context, measurement string, from, to time.Time, tags []string) error {
	quoted := strings.NewReplacer(`\`, `\\`, `'`, `\'`)
	q := fmt.Sprintf(`DELETE FROM %q WHERE time >= %d AND time <= %d`, measurement, from.UnixNano(), to.UnixNano())
	for pair := range slices.Chunk(tags, 2) {
		q += fmt.Sprintf(` AND %q = '%s'`, pair[0], quoted.Replace(pair[1]))
	}
	db, _, _ := strings.Cut(m.cfg.Bucket, "/")
	var answer struct {
		Results []struct {
			Error  string
			Series []any
		}
	}
	err := m.ask(ctx, m.client.HTTPService().ServerURL()+"query", "application/x-www-form-urlencoded",
		url.Values{"db": {db}, "q": {q}}.Encode(), &answer)
	switch {
	case err != nil:
		return err
	case len(answer.Results) != 1 || len(answer.Results[0].Series) > 0:
		return errNoDeletion
	case answer.Results[0].Error != "":
		return errors.New(answer.Results[0].Error)
	}
	return nil
}

// ask posts a request and reads an answer, where one is wanted.
func (m *Mirror) ask(ctx context.Context, at, kind, body string, answer any) error {
	err := m.client.HTTPService().DoPostRequest(ctx, at, bytes.NewBufferString(body),
		func(req *http.Request) { req.Header.Set("Content-Type", kind) },
		func(resp *http.Response) error {
			defer resp.Body.Close()
			if answer != nil {
				_ = json.NewDecoder(io.LimitReader(resp.Body, 1<<20)).Decode(answer) // what is no such answer leaves it empty
			}
			return nil
		})
	return known(err)
}

// known tells an engine that has no such thing from one that refuses.
func known(err *influxhttp.Error) error {
	if err == nil {
		return nil
	}
	switch err.StatusCode {
	case http.StatusNotFound, http.StatusMethodNotAllowed, http.StatusNotImplemented, http.StatusBadRequest:
		return errNoDeletion
	}
	return err
}
