package dashboards

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/url"
	"slices"
	"time"

	"weighbeam/dashboards/chart"
	"weighbeam/dashboards/fhir"
	"weighbeam/dashboards/sheet"
	"weighbeam/home"
)

// SheetForm is a form in which the sheet for the practice can be had.
type SheetForm string

// The forms of a sheet.
const (
	PDF  SheetForm = "pdf"  // two pages
	HTML SheetForm = "html" // one file that needs no other
	CSV  SheetForm = "csv"  // the readings behind it
	FHIR SheetForm = "fhir" // the readings and checks, for the practice's own program
)

// Ending is how the name of a file in the form ends.
func (f SheetForm) Ending() string {
	if f == FHIR {
		return "fhir.json"
	}
	return string(f)
}

func (f SheetForm) mime() string {
	switch f {
	case PDF:
		return "application/pdf"
	case CSV:
		return "text/csv; charset=utf-8"
	case FHIR:
		return "application/fhir+json"
	}
	return "text/html; charset=utf-8"
}

// SheetRequest says which sheet is wanted. Zero times stand for the last year.
type SheetRequest struct {
	Cat      string
	From, To time.Time // days, To the last one
	Form     SheetForm
	Paper    string // "a4" (also when empty) or "letter"
}

func (r SheetRequest) query() url.Values {
	q := url.Values{"paper": {r.Paper}}
	if !r.From.IsZero() {
		q.Set("from", r.From.Format(time.DateOnly))
	}
	if !r.To.IsZero() {
		q.Set("to", r.To.Format(time.DateOnly))
	}
	return q
}

// Sheets returns a function that writes the sheet for the practice: the same
// that the pages offer. A cat that is not of the house is home.ErrNotFound.
func Sheets(store Store, look Outlooker, opts Options) func(ctx context.Context, w io.Writer, r SheetRequest) error {
	p := newPages(store, look, opts)
	p.tmpl = p.say.templates()
	return func(ctx context.Context, w io.Writer, r SheetRequest) error {
		return p.writeSheet(ctx, w, r.Cat, r.Form, r.query())
	}
}

// sheetFile answers with the sheet as a file.
func (p *pages) sheetFile(form SheetForm) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		id := r.PathValue("id")
		var content bytes.Buffer
		if err := p.writeSheet(r.Context(), &content, id, form, r.URL.Query()); err != nil {
			p.page(func(*http.Request) (view, error) { return view{}, err })(w, r)
			return
		}
		how := "inline"
		if form != PDF {
			how = "attachment"
		}
		w.Header().Set("Content-Type", form.mime())
		w.Header().Set("Content-Disposition", fmt.Sprintf(`%s; filename="%s-sheet-%s.%s"`, how, id, p.opts.Now().In(p.opts.Zone).Format(time.DateOnly), form.Ending()))
		p.send(w, r, content.Bytes())
	}
}

func (p *pages) writeSheet(ctx context.Context, w io.Writer, id string, form SheetForm, q url.Values) error {
	switch form {
	case CSV:
		return p.sheetCSV(ctx, w, id, q)
	case FHIR:
		return p.sheetFHIR(ctx, w, id, q)
	}
	s, _, err := p.sheetOf(ctx, id, q)
	if err != nil {
		return err
	}
	if form == PDF {
		return s.PDF(w, sheet.PaperNamed(q.Get("paper")))
	}
	return p.loose(w, s)
}

// looseView is a sheet that carries its style and its charts.
type looseView struct {
	sheet.Sheet
	Style  template.CSS
	Images map[string]template.URL
}

// loose writes the sheet as one HTML file: its style and its charts are in it.
func (p *pages) loose(w io.Writer, s sheet.Sheet) error {
	style, err := files.ReadFile("templates/frame.css")
	if err != nil {
		return err
	}
	images := map[string]template.URL{}
	for _, sec := range s.Sections {
		if sec.Chart == nil {
			continue
		}
		var svg bytes.Buffer
		if err := sec.Chart.Picture.SVG(&svg, chart.Print); err != nil {
			return err
		}
		images[sec.Chart.Address] = template.URL("data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(svg.Bytes())) // drawn here
	}
	return p.tmpl.ExecuteTemplate(w, "loose.html", looseView{s, template.CSS(style), images}) // the style is a file of the program
}

// sheetCSV writes every reading of the period as a readings file, in time order.
func (p *pages) sheetCSV(ctx context.Context, w io.Writer, id string, q url.Values) error {
	_, c, err := p.findCat(ctx, id)
	if err != nil {
		return err
	}
	rs, err := p.readingsOf(ctx, c, p.sheetPeriod(q))
	if err != nil {
		return err
	}
	return writeCSV(w, rs)
}

// sheetFHIR writes every reading and check of the period as a FHIR bundle.
func (p *pages) sheetFHIR(ctx context.Context, w io.Writer, id string, q url.Values) error {
	h, c, err := p.findCat(ctx, id)
	if err != nil {
		return err
	}
	per := p.sheetPeriod(q)
	record := fhir.Record{Cat: c, Scales: h.Scales, Made: p.opts.Now()}
	if record.Readings, err = p.readingsOf(ctx, c, per); err != nil {
		return err
	}
	if record.Checks, err = p.store.Checks(ctx, c.ID, per.From, per.To.Add(time.Second)); err != nil {
		return err
	}
	all, err := p.store.Corrections(ctx, c.ID)
	if err != nil {
		return err
	}
	for _, one := range all {
		if per.holds(one.At) {
			record.Corrections = append(record.Corrections, one)
		}
	}
	bundle, err := fhir.Bundle(record)
	if err != nil {
		return err
	}
	_, err = w.Write(bundle)
	return err
}

// readingsOf is every reading of a cat in a period, in time order.
func (p *pages) readingsOf(ctx context.Context, c home.Cat, per period) ([]home.Reading, error) {
	until := per.To.Add(time.Second)
	ws, err := p.weighings(ctx, c.ID, per.From, until)
	if err != nil {
		return nil, err
	}
	rs := weightReadings(ws)
	for _, quantity := range home.Quantities() {
		if quantity == home.Weight || quantity == home.Load {
			continue
		}
		counts, err := p.store.Counts(ctx, c.ID, quantity, per.From, until)
		if err != nil {
			return nil, err
		}
		rs = append(rs, counts...)
	}
	slices.SortStableFunc(rs, func(a, b home.Reading) int { return a.Time.Compare(b.Time) })
	return rs, nil
}

func weightReadings(ws []home.Weighing) []home.Reading {
	rs := make([]home.Reading, len(ws))
	for i, w := range ws {
		rs[i] = home.Reading{Source: w.Source, Quantity: home.Weight, Time: w.Time, Value: w.Kg, SD: w.SDKg, Cat: w.Cat}
	}
	return rs
}
