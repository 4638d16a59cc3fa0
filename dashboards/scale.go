package dashboards

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
)

// visitsBack is how far back a scale's page lists its visits, unclearBack how
// far back it looks for those that wait for a name, and visitsShown how many of
// each it lists.
const (
	visitsBack  = 7 * 24 * time.Hour
	unclearBack = 60 * 24 * time.Hour
	visitsShown = 100
)

type scaleView struct {
	ID, Kind, Last, How string
	Arrived, Stored     string // when the newest did; "" where that is not known
	Battery             string // "" where it never said
	Told                bool   // somebody has just said whose a visit was
	Count               int64
	Open                []findingLine
	Visits              visitTable
	Unclear             []visitRow
	Bench               *benchView // nil where scales are not looked at closely
}

// benchView is what a scale says now, and how true it was found to be.
type benchView struct {
	Now, Moving  string
	Zero         string           // how far the empty scale moves by itself, "" where not known
	Calibrations []calibrationRow // newest first
}

type calibrationRow struct {
	At                        time.Time
	Since, Verdict, Drift, By string
	Gain                      string
}

type visitTable struct {
	Label           string
	Rows            []visitRow
	Stay, Left, Why bool // whether any row has something in that column
}

func (t *visitTable) add(r visitRow) {
	if len(t.Rows) == visitsShown {
		return
	}
	t.Rows = append(t.Rows, r)
	t.Stay, t.Left, t.Why = t.Stay || r.Stay != "", t.Left || r.Left != "", t.Why || r.Quality != ""
}

type visitRow struct {
	When                time.Time
	What, Mass, Who     string
	Left, Quality, Stay string
	Name                string // address where a person says whose it was, "" for none
	Trace               string // address of its page, "" for none
	Picture             string // of its trace
}

// scale is the page of one source.
func (p *pages) scale(r *http.Request) (view, error) {
	ctx, id, now := r.Context(), r.PathValue("id"), p.opts.Now()
	h, err := p.store.Household(ctx)
	if err != nil {
		return view{}, err
	}
	heard, err := p.store.Sources(ctx)
	if err != nil {
		return view{}, err
	}
	v := scaleView{ID: id, Told: r.FormValue("told") != ""}
	if !v.introduce(h, sourceRows(h, heard, now)) {
		return view{}, home.ErrNotFound
	}
	open, err := p.store.Findings(ctx, true, time.Time{})
	if err != nil {
		return view{}, err
	}
	for _, f := range open {
		if f.Source == id {
			v.Open = append(v.Open, lineOf(f))
		}
	}
	visits, err := p.store.Visits(ctx, id, now.Add(-unclearBack), now.Add(time.Second))
	if err != nil {
		return view{}, err
	}
	v.sort(p, h, visits, now)
	if p.opts.Bench != nil {
		if v.Bench, err = p.bench(r, id, visits); err != nil {
			return view{}, err
		}
	}
	return view{"scale.html", "Scale " + id, v}, nil
}

// introduce says what the source is; it reports whether the house knows it.
func (v *scaleView) introduce(h home.Household, rows []sourceRow) bool {
	i := slices.IndexFunc(rows, func(s sourceRow) bool { return s.ID == v.ID })
	if i < 0 {
		return false
	}
	v.Kind, v.Last, v.Count, v.Battery = rows[i].Kind, rows[i].Last, rows[i].Count, rows[i].Battery
	v.Arrived, v.Stored = rows[i].Arrived, rows[i].Stored
	s, ok := h.Scale(v.ID)
	switch {
	case !ok:
		v.How = "It is not in the household, so it is taken for a scale on the floor: what it weighs is given to the cats of this house by their weight, and counts. " +
			"Nobody is told when it falls silent. If it is yours, say what it is on the page Who lives here."
	case s.Topic == "":
		v.How = "It sends by other ways than MQTT."
	default:
		v.How = "It speaks on the topic " + s.Topic + ", as " + payloadWords(s.Payload) + "."
	}
	return true
}

// sort lists the newest visits, and among older ones those that are unclear.
func (v *scaleView) sort(p *pages, h home.Household, visits []home.Visit, now time.Time) {
	v.Visits.Label = "Table of visits"
	for i := len(visits) - 1; i >= 0; i-- {
		one := visits[i]
		row := p.visitRow(h, one)
		if one.Whose == home.Unclear && len(v.Unclear) < visitsShown {
			v.Unclear = append(v.Unclear, row)
		}
		if now.Sub(one.Start) <= visitsBack {
			v.Visits.add(row)
		}
	}
}

func (p *pages) visitRow(h home.Household, one home.Visit) visitRow {
	row := visitRow{When: one.Start, What: eventWords(one.Event), Who: whose(h, one), Quality: strings.Join(one.Reasons, ", ")}
	if p.opts.Naming && one.Event == home.CatVisit {
		row.Name = fmt.Sprintf("/whose/%s/%d", one.Source, one.Start.UnixMicro())
	}
	if p.opts.Bench != nil && one.End.After(one.Start) {
		row.Trace, row.Picture = visitPath(one), tracePath(one)
	}
	if one.MassKg > 0 {
		row.Mass = p.say.mass(one.MassKg)
		if one.SDKg > 0 {
			row.Mass += " ± " + number(p.say.weight(one.SDKg), 2)
		}
	}
	if one.HasLeft {
		row.Left = number(one.LeftG, 0) + " g"
	}
	if d := one.End.Sub(one.Start); d > 0 {
		row.Stay = number(d.Seconds(), 0) + " s"
	}
	return row
}

func whose(h home.Household, one home.Visit) string {
	name := one.Cat
	if c, ok := h.Cat(one.Cat); ok {
		name = c.Name
	}
	switch {
	case one.Event != home.CatVisit && one.Cat == "":
		return ""
	case one.Whose == home.Guest:
		return "a guest"
	case one.Whose == home.Said && one.Cat == "":
		return "a guest, as told"
	case one.Whose == home.Said:
		return name + ", as told"
	case one.Cat == "":
		return "unclear"
	}
	return fmt.Sprintf("%s, %s sure", name, sureWords(one.Confidence))
}

func eventWords(e home.Event) string {
	switch e {
	case home.CatVisit:
		return "weighing"
	case home.Look:
		return "a look in, too short to weigh"
	case home.Several:
		return "more than one at once"
	case home.Scooped:
		return "something taken out"
	case home.ToppedUp:
		return "something put in"
	case home.Knocked:
		return "a knock"
	case home.Moved:
		return "moved, emptied or changed"
	case home.Meal:
		return "food eaten"
	case home.Drink:
		return "water drunk"
	}
	return string(e)
}
