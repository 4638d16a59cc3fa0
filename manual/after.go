package manual

import (
	"fmt"
	"html/template"
	"math"
	"net/http"
	"time"

	"weighbeam/home"
)

type storedView struct {
	Cat      home.Cat
	When, By string
	Parts    []part
	RedFlags []home.RedFlag
	Note     string
	Again    bool
	Recount  bool // a sleeping count was over the published line
}

// part is one stored number in words, and how far it can be off.
type part struct{ What, Sure string }

// stored shows a check as it stands in the store, and so proves that it does.
func (m *room) stored(w http.ResponseWriter, r *http.Request) {
	c, check, err := m.find(r)
	if err != nil {
		m.fail(w, r, err)
		return
	}
	v := storedView{Cat: c, By: check.By, Note: check.Note, RedFlags: check.RedFlags, Again: r.FormValue("again") != "",
		When: check.Time.In(m.opts.Zone).Format("2 Jan 2006, 15:04")}
	for _, one := range check.Readings {
		v.Parts = append(v.Parts, m.part(one))
		// Repeated sleeping counts over 30 merit a look; a lone one is counted
		// again first (Ljungvall et al. 2014, J Feline Med Surg, abstract).
		if one.Quantity == home.Breaths && one.State == home.Asleep && one.PerMinute() > 30 {
			v.Recount = true
		}
	}
	m.show(w, http.StatusOK, "stored.html", "Stored", v)
}

// find looks a check up by the cat and id in the address.
func (m *room) find(r *http.Request) (home.Cat, home.HomeCheck, error) {
	h, err := m.store.Household(r.Context())
	if err != nil {
		return home.Cat{}, home.HomeCheck{}, err
	}
	c, ok := h.Cat(r.PathValue("cat"))
	at, okTime := timeOf(r.PathValue("id"))
	if !ok || !okTime {
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

func (m *room) part(r home.Reading) part {
	switch r.Quantity {
	case home.Weight:
		unit, per := m.unit()
		p := part{What: fmt.Sprintf("Weight %.2f %s", r.Value/per, unit)}
		if r.SD > 0 {
			p.Sure = fmt.Sprintf("give or take %.2g %s, from the step of the scale (standard uncertainty)", r.SD/per, unit)
		}
		return p
	case home.Breaths:
		per := 60 / r.Window.Seconds()
		return part{
			What: fmt.Sprintf("%.0f breaths in %.0f seconds, %s: %.0f a minute", r.Value, r.Window.Seconds(), stateWords(r.State), r.PerMinute()),
			Sure: fmt.Sprintf("one breath more or less moves it by %.0f", math.Round(per)),
		}
	}
	return part{What: fmt.Sprintf("%s %g %s", r.Quantity, r.Value, r.Quantity.Unit())}
}

// unit is what weights are shown in, and its size in kg.
func (m *room) unit() (name string, kg float64) {
	if m.opts.Units == "lb" {
		return "lb", kgPer["lb"]
	}
	return "kg", 1
}

// What became of a red flag that was sent.
const (
	notSent  = ""
	isStored = "stored"
	unstored = "unstored"
)

type nowView struct {
	Cat             home.Cat
	Known           bool
	About           string
	Flags           []home.RedFlag
	Poison          bool
	Practice, Phone string
	Tel             template.URL
	Kept            string
}

// now is the page of a red flag. It needs nothing but its address: where the
// household cannot be read it leaves out the cat's name.
func (m *room) now(w http.ResponseWriter, r *http.Request) {
	h, _ := m.store.Household(r.Context())
	c, _ := h.Cat(r.PathValue("cat"))
	var flags []home.RedFlag
	for _, f := range home.RedFlags() {
		if has(r.URL.Query()["flag"], string(f)) {
			flags = append(flags, f)
		}
	}
	kept := notSent
	if r.FormValue("stored") != "" {
		kept = isStored
	}
	m.show(w, http.StatusOK, "now.html", "Go to a vet now", m.nowView(c, flags, kept))
}

func (m *room) nowView(c home.Cat, flags []home.RedFlag, kept string) nowView {
	v := nowView{Cat: c, Known: c.ID != "", Flags: flags, Practice: m.opts.Practice, Phone: m.opts.Phone, Kept: kept, Tel: tel(m.opts.Phone)}
	for _, f := range flags {
		v.Poison = v.Poison || f == home.Poison
	}
	v.About = about(c, m.opts.Now())
	return v
}

// tel is a telephone link. Only digits and a leading plus are let through, so
// the URL is safe to mark as such.
func tel(phone string) template.URL {
	var digits []rune
	for i, r := range phone {
		if (r >= '0' && r <= '9') || (r == '+' && i == 0) {
			digits = append(digits, r)
		}
	}
	if len(digits) == 0 {
		return ""
	}
	return template.URL("tel:" + string(digits))
}

// about is what a practice asks first: sex, age, weight.
func about(c home.Cat, now time.Time) string {
	s := ""
	add := func(words string) {
		if s != "" {
			s += ", "
		}
		s += words
	}
	if c.Sex != "" {
		add(c.Sex)
	}
	if c.Neutered {
		add("neutered")
	}
	if !c.Born.IsZero() {
		add(fmt.Sprintf("born %d", c.Born.Year()))
	}
	return s
}

func (m *room) funcs() template.FuncMap {
	return template.FuncMap{"flag": home.RedFlag.Words}
}
