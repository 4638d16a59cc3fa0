package manual

import (
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

type storedView struct {
	Cat          home.Cat
	ID, When, By string
	Parts        []part
	RedFlags     []home.RedFlag
	Note         string
	Photos       []home.Photo
	Advice       []string
	Again        bool
	Form         string // the form that it came with, so that its draft can go
	Correctable  bool
}

// part is one stored number or look in words, and how far it can be off.
type part struct{ What, Sure string }

// stored shows a check as it stands in the store, and so proves that it does.
func (m *room) stored(w http.ResponseWriter, r *http.Request) {
	c, check, err := m.find(r)
	if err != nil {
		m.fail(w, r, err)
		return
	}
	v := storedView{Cat: c, ID: check.ID, By: check.By, Note: check.Note, RedFlags: check.RedFlags, Again: r.FormValue("again") != "",
		Form: r.FormValue("form"), When: m.clock(check.Time), Parts: m.parts(check), Advice: m.advice(check), Correctable: m.opts.Diary != nil}
	for _, p := range check.Photos {
		if p.Caption == "" {
			p.Caption = m.words.say("photo.alt-plain", "when", v.When)
		}
		v.Photos = append(v.Photos, p)
	}
	m.show(w, http.StatusOK, "stored.html", m.words.say("stored.title"), v)
}

// clock is a time as a page shows it.
func (m *room) clock(t time.Time) string { return t.In(m.opts.Zone).Format("2 Jan 2006, 15:04") }

// find looks a check up by the cat and id in the address.
func (m *room) find(r *http.Request) (home.Cat, home.HomeCheck, error) {
	h, err := m.store.Household(r.Context())
	if err != nil {
		return home.Cat{}, home.HomeCheck{}, err
	}
	c, ok := h.Cat(r.PathValue("cat"))
	if !ok {
		return c, home.HomeCheck{}, home.ErrNotFound
	}
	if m.opts.Diary != nil {
		check, err := m.opts.Diary.HomeCheck(r.Context(), r.PathValue("id"))
		if err == nil && check.Cat != c.ID {
			err = home.ErrNotFound
		}
		return c, check, err
	}
	at, ok := timeOf(r.PathValue("id"))
	if !ok {
		return c, home.HomeCheck{}, home.ErrNotFound
	}
	checks, err := m.store.Checks(r.Context(), c.ID, at.Add(-time.Second), at.Add(2*time.Second))
	for _, check := range checks {
		if check.ID == r.PathValue("id") {
			return c, check, nil
		}
	}
	if err == nil {
		err = home.ErrNotFound
	}
	return c, home.HomeCheck{}, err
}

// parts are the numbers and looks of a check in words.
func (m *room) parts(c home.HomeCheck) []part {
	var all []part
	for _, r := range c.Readings {
		all = append(all, m.part(r))
	}
	for _, s := range c.Seen {
		all = append(all, part{What: m.words.partName(partKey(s.Part, s.Side)) + ": " + m.words.seen(s)})
	}
	for _, l := range c.Lumps {
		all = append(all, part{What: m.words.say("stored.lump-line", "place", m.words.lumpPlace(l), "size", m.lumpSize(l)), Sure: l.Note})
	}
	for _, g := range c.Given {
		p := part{What: m.words.say("stored.given-line", "kind", m.words.say("given-kind."+string(g.Kind)), "what", strings.TrimSpace(g.What+" "+g.Amount))}
		if g.Taken != "" {
			p.Sure = m.words.say("given.taken") + ": " + m.words.say("taken."+string(g.Taken))
		}
		all = append(all, p)
	}
	return all
}

func (m *room) lumpSize(l home.Lump) string {
	if l.Gone {
		return m.words.say("stored.lump-gone")
	}
	var sizes []string
	for _, mm := range []float64{l.LengthMm, l.WidthMm, l.HeightMm} {
		if mm > 0 {
			sizes = append(sizes, strconv.FormatFloat(mm, 'f', -1, 64))
		}
	}
	if len(sizes) == 0 {
		return m.words.say("stored.lump-unmeasured")
	}
	return strings.Join(sizes, " × ") + " mm"
}

func (m *room) part(r home.Reading) part {
	figure := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	switch r.Quantity {
	case home.Weight:
		p := part{What: m.words.say("stored.weight", "value", m.mass(r.Value))}
		if r.SD > 0 {
			unit, per := m.unit()
			p.Sure = m.words.say("stored.weight-sure", "sd", strconv.FormatFloat(r.SD/per, 'g', 2, 64)+" "+unit)
		}
		if d := asDifference.FindStringSubmatch(r.Note); d != nil {
			p.Sure = m.words.say("stored.weight-difference", "with", d[1]+" "+d[3], "without", d[2]+" "+d[3]) + p.Sure
		}
		return p
	case home.Breaths, home.Heartbeats:
		per := math.Round(60 / r.Window.Seconds())
		return part{
			What: m.words.say("stored."+string(r.Quantity), "n", figure(r.Value), "s", figure(r.Window.Seconds()),
				"state", m.words.say("state."+string(r.State)), "rate", figure(math.Round(r.PerMinute()))),
			Sure: m.words.say("stored.count-sure", "step", figure(per)),
		}
	case home.Temperature:
		return part{What: m.words.say("stored.temperature", "value", degrees(r.Value))}
	}
	return part{What: string(r.Quantity) + " " + figure(r.Value) + " " + r.Quantity.Unit()}
}

// degrees shows a temperature in both units.
func degrees(cel float64) string {
	return strconv.FormatFloat(cel, 'f', 1, 64) + " °C (" + strconv.FormatFloat(cel*9/5+32, 'f', 1, 64) + " °F)"
}

// mass shows a body mass in the unit of the house, pounds also with ounces.
func (m *room) mass(kg float64) string {
	unit, per := m.unit()
	v := kg / per
	s := strconv.FormatFloat(v, 'f', 2, 64) + " " + unit
	if unit != "lb" {
		return s
	}
	tenths := math.Round(v * 160) // of an ounce
	return s + " (" + strconv.Itoa(int(tenths)/160) + " lb " + strconv.FormatFloat(math.Mod(tenths, 160)/10, 'f', 1, 64) + " oz)"
}

// unit is what weights are shown in, and its size in kg.
func (m *room) unit() (name string, kg float64) {
	if m.opts.Units == "lb" {
		return "lb", kgPer["lb"]
	}
	return "kg", 1
}
