package dashboards

import (
	"bytes"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"weighbeam/dashboards/chart"
	"weighbeam/home"
)

// visitView is the page of one event of a scale: its trace, and how it was understood.
type visitView struct {
	Source, Picture, Desc, Name string
	Row                         visitRow
	Facts                       []standing
	Gone                        bool // the load is no longer kept
}

// tracePad is how much is shown before and after an event, and traceBefore how far
// back the load is looked for that held at its beginning.
const (
	tracePad    = 15 * time.Second
	traceBefore = 10 * time.Minute
)

// visitAt is the event of a source that began at the time that the address names.
func (p *pages) visitAt(r *http.Request, start string) (home.Visit, error) {
	micros, err := strconv.ParseInt(start, 10, 64)
	if err != nil {
		return home.Visit{}, home.ErrNotFound
	}
	at := time.UnixMicro(micros).UTC()
	visits, err := p.store.Visits(r.Context(), r.PathValue("id"), at, at.Add(6*time.Hour)) // it ends within that
	for _, v := range visits {
		if v.Start.Equal(at) {
			return v, nil
		}
	}
	if err == nil {
		err = home.ErrNotFound
	}
	return home.Visit{}, err
}

// visit is the page of one event.
func (p *pages) visit(r *http.Request) (view, error) {
	one, err := p.visitAt(r, r.PathValue("start"))
	if err != nil {
		return view{}, err
	}
	h, err := p.store.Household(r.Context())
	if err != nil {
		return view{}, err
	}
	t, err := p.trace(r, one)
	if err != nil {
		return view{}, err
	}
	row := p.visitRow(h, one)
	row.What = upperFirst(row.What)
	v := visitView{Source: one.Source, Row: row, Name: row.Name, Picture: tracePath(one), Desc: t.Desc, Gone: len(t.Marks) == 0}
	for _, f := range []standing{{"Who", row.Who}, {"Weight", row.Mass}, {"Left behind", row.Left}, {"Stay", row.Stay}, {"Less sure because", row.Quality}, {"Corrected by", gainWords(one)}} {
		if f.Value != "" {
			v.Facts = append(v.Facts, f)
		}
	}
	return view{"visit.html", row.What, v}, nil
}

func gainWords(v home.Visit) string {
	if v.Gain == 0 {
		return ""
	}
	return fmt.Sprintf("a calibration, times %.4f", v.Gain)
}

func visitPath(v home.Visit) string {
	return fmt.Sprintf("/sources/%s/visits/%d", v.Source, v.Start.UnixMicro())
}

func tracePath(v home.Visit) string { return visitPath(v) + "/trace.svg" }

// traceSVG is the picture of one event.
func (p *pages) traceSVG(w http.ResponseWriter, r *http.Request) {
	var content bytes.Buffer
	one, err := p.visitAt(r, r.PathValue("start"))
	if err == nil {
		var t chart.Trace
		if t, err = p.trace(r, one); err == nil && len(t.Marks) == 0 {
			err = home.ErrNotFound
		}
		if err == nil {
			err = t.SVG(&content, sizeOf(r.FormValue("size")))
		}
	}
	if err != nil {
		p.page(func(*http.Request) (view, error) { return view{}, err })(w, r)
		return
	}
	guard(w.Header(), chart.Policy)
	w.Header().Set("Content-Type", "image/svg+xml")
	p.send(w, r, content.Bytes())
}

// trace is the load over the empty scale around an event, with the mass that it was
// understood as. Without marks where the load is not kept any more.
func (p *pages) trace(r *http.Request, v home.Visit) (chart.Trace, error) {
	pad := max(tracePad, v.End.Sub(v.Start)/4)
	t := chart.Trace{Unit: p.say.unit(), From: v.Start.Add(-pad), To: v.End.Add(pad), Start: v.Start, End: v.End,
		Title: "Load of " + v.Source + " on " + p.say.clock(v.Start)}
	loads, err := p.opts.Bench.Loads(r.Context(), v.Source, v.Start.Add(-traceBefore), t.To)
	if err != nil || len(loads) == 0 {
		return t, err
	}
	gain, base := v.Gain, emptyBefore(loads, v.Start)
	if gain == 0 {
		gain = 1
	}
	for i, l := range loads {
		at := l.Time
		if at.Before(t.From) {
			if i+1 < len(loads) && loads[i+1].Time.Before(t.From) {
				continue
			}
			at = t.From // what held when the picture begins
		}
		t.Marks = append(t.Marks, chart.Mark{Time: at, Value: p.say.weight(gain * (l.Value - base))})
	}
	t.Levels = []chart.Level{{Value: 0, Words: "empty before"}}
	t.Desc = fmt.Sprintf("The load over the empty scale for %.0f seconds, at most %s %s. It was understood as: %s.",
		v.End.Sub(v.Start).Seconds(), number(most(t.Marks), 2), t.Unit, eventWords(v.Event))
	if v.MassKg > 0 {
		t.Levels = append(t.Levels, chart.Level{Value: p.say.weight(v.MassKg), Words: "read as " + p.say.mass(v.MassKg)})
		t.Desc += " The mass that was read is " + p.say.mass(v.MassKg) + "."
	}
	return t, nil
}

func most(marks []chart.Mark) float64 {
	top := marks[0].Value
	for _, m := range marks {
		top = max(top, m.Value)
	}
	return top
}

// emptyBefore is the load just before an event: the middle of the last minute, or
// the last that was said.
func emptyBefore(loads []home.Reading, start time.Time) float64 {
	var minute []float64
	last := loads[0].Value
	for _, l := range loads {
		if !l.Time.Before(start) {
			break
		}
		last = l.Value
		if start.Sub(l.Time) <= time.Minute {
			minute = append(minute, l.Value)
		}
	}
	if len(minute) == 0 {
		return last
	}
	return middle(minute)
}
