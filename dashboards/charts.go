package dashboards

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"io"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"weighbeam/dashboards/chart"
	"weighbeam/home"
)

// chart answers "/cats/{id}/NAME.FORM": the picture of a series as SVG or PNG,
// or its readings as CSV.
func (p *pages) chart(w http.ResponseWriter, r *http.Request) {
	name, form, _ := strings.Cut(r.PathValue("chart"), ".")
	s, err := p.seriesFor(r, name)
	if err != nil {
		p.page(func(*http.Request) (view, error) { return view{}, err })(w, r)
		return
	}
	var content bytes.Buffer
	switch form {
	case "svg":
		guard(w.Header(), chart.Policy)
		w.Header().Set("Content-Type", "image/svg+xml")
		err = s.picture.SVG(&content, sizeOf(r.FormValue("size")))
	case "png":
		w.Header().Set("Content-Type", "image/png")
		err = s.picture.PNG(&content, sizeOf(r.FormValue("size")))
	case "json":
		w.Header().Set("Content-Type", "application/json")
		err = json.NewEncoder(&content).Encode(s.readOut(sizeOf(r.FormValue("size")), p.opts.Zone))
	case "csv":
		w.Header().Set("Content-Type", "text/csv; charset=utf-8")
		w.Header().Set("Content-Disposition", `attachment; filename="`+s.cat.ID+"-"+s.name+`.csv"`)
		err = s.csv(&content)
	default:
		err = home.ErrNotFound
	}
	if err != nil {
		w.Header().Del("Content-Disposition")
		p.page(func(*http.Request) (view, error) { return view{}, err })(w, r)
		return
	}
	p.send(w, r, content.Bytes())
}

// spot is a reading that can be pointed at: where it lies in the picture, as parts of
// its width and height, and what is said of it.
type spot struct {
	X     float64 `json:"x"`
	Y     float64 `json:"y"`
	Words string  `json:"words"`
}

// readOut is what can be pointed at in a picture, from the left.
func (s series) readOut(size chart.Size, zone *time.Location) []spot {
	spots := []spot{}
	for _, at := range s.picture.Places(size) {
		words := at.Time.In(zone).Format("2 Jan 2006, 15:04") + ": " + number(at.Value, s.decimals)
		if s.each != nil { // of a whole day
			words = at.Time.In(zone).Format("2 Jan 2006") + ": " + number(at.Value, s.decimals)
		}
		if s.unit != "" {
			words += " " + s.unit
		}
		if at.Series != "" {
			words += ", " + at.Series
		}
		spots = append(spots, spot{math.Round(at.X*1e4) / 1e4, math.Round(at.Y*1e4) / 1e4, words})
	}
	return spots
}

func sizeOf(name string) chart.Size {
	switch name {
	case "low":
		return chart.Low
	case "narrow":
		return chart.Narrow
	case "print":
		return chart.Print
	case "spark":
		return chart.Spark
	}
	return chart.Wide
}

func (p *pages) seriesFor(r *http.Request, name string) (series, error) {
	h, c, err := p.findCat(r.Context(), r.PathValue("id"))
	if err != nil {
		return series{}, err
	}
	per := periodOf(r.URL.Query(), p.opts.Now(), p.opts.Zone)
	switch name {
	case "weight":
		return p.weight(r.Context(), h, c, per)
	case "breaths":
		return p.breaths(r.Context(), h, c, per)
	}
	for _, m := range measures() {
		if m.name == name {
			return m.series(p.gather(r.Context(), h, c, per))
		}
	}
	return series{}, home.ErrNotFound
}

func (p *pages) findCat(ctx context.Context, id string) (home.Household, home.Cat, error) {
	h, err := p.store.Household(ctx)
	if err != nil {
		return h, home.Cat{}, err
	}
	c, ok := h.Cat(id)
	if !ok {
		return h, c, home.ErrNotFound
	}
	return h, c, nil
}

// csv writes the readings of s as a readings file: in the program's own units,
// whatever the pages show, so that it can be read back.
func (s series) csv(w *bytes.Buffer) error {
	if s.each != nil {
		return writeCSV(w, s.each)
	}
	return writeCSV(w, s.readings)
}

// writeCSV writes readings as a readings file.
func writeCSV(w io.Writer, rs []home.Reading) error {
	out := csv.NewWriter(w)
	rows := [][]string{{"time", "source", "quantity", "value", "unit", "cat", "window_s", "state", "note", "sd"}}
	for _, r := range rs {
		rows = append(rows, []string{
			r.Time.UTC().Format(time.RFC3339Nano), r.Source, string(r.Quantity),
			plain(r.Value), r.Quantity.Unit(), r.Cat, some(r.Window.Seconds()), string(r.State), r.Note, some(r.SD),
		})
	}
	return out.WriteAll(rows)
}

func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// some is plain, and nothing for a zero that means "not stated".
func some(v float64) string {
	if v == 0 {
		return ""
	}
	return plain(v)
}
