package dashboards

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// catForm is a cat as a browser shows and sends it.
type catForm struct {
	ID, Name, Born, Sex, Weight, Unit, Chip string
	Neutered                                bool
	New                                     bool
}

func (catForm) template() (name, title string) { return "household-cat.html", "A cat of this house" }

func (catForm) filled(p *pages, h home.Household, id string) (form, bool) {
	f := &catForm{Unit: p.say.unit(), New: id == ""}
	c, ok := h.Cat(id)
	if !ok {
		return f, id == ""
	}
	f.ID, f.Name, f.Sex, f.Neutered, f.Chip = c.ID, c.Name, c.Sex, c.Neutered, c.Chip
	switch {
	case c.Born.IsZero():
	case c.BornYear:
		f.Born = c.Born.Format("2006")
	default:
		f.Born = c.Born.Format(time.DateOnly)
	}
	if c.WeightKg > 0 {
		f.Weight = number(p.say.weight(c.WeightKg), 2)
	}
	return f, true
}

func (f *catForm) sent(r *http.Request) {
	v := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
	*f = catForm{ID: v("id"), Name: v("name"), Born: v("born"), Sex: v("sex"), Weight: v("weight"), Unit: v("unit"), Chip: v("chip"),
		Neutered: v("neutered") != "", New: v("new") != ""}
}

func (f *catForm) into(_ context.Context, p *pages, h home.Household) (home.Household, map[string]string) {
	wrong := map[string]string{}
	c := home.Cat{ID: f.ID, Name: f.Name, Sex: f.Sex, Neutered: f.Neutered, Chip: f.Chip}
	if err := home.ValidID("the short name", f.ID); err != nil {
		wrong["id"] = sentence(err)
	} else if _, taken := h.Cat(f.ID); taken && f.New {
		wrong["id"] = "Another cat has this short name."
	}
	if f.Name == "" {
		wrong["name"] = "Give the name by which you call the cat."
	}
	c.Born, c.BornYear = born(f.Born, wrong, p.opts.Now())
	c.WeightKg = f.kilograms(p, wrong)
	if len(wrong) == 0 {
		if err := c.Valid(); err != nil {
			wrong[""] = sentence(err)
		}
	}
	h.Cats = put(h.Cats, c, func(o home.Cat) bool { return o.ID == c.ID })
	return h, wrong
}

// born reads a day or a year.
func born(text string, wrong map[string]string, now time.Time) (at time.Time, year bool) {
	if text == "" {
		return at, false
	}
	at, err := time.Parse(time.DateOnly, text)
	if err != nil {
		at, err = time.Parse("2006", text)
		year = true
	}
	switch {
	case err != nil:
		wrong["born"] = "Write a day as 2014-05-02, or only the year."
	case at.After(now) || at.Year() < 1980:
		wrong["born"] = "Nobody living here was born then: check the year."
	}
	return at, year
}

func (f *catForm) kilograms(p *pages, wrong map[string]string) float64 {
	if f.Weight == "" {
		return 0
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(f.Weight, ",", "."), 64)
	kg := v / p.say.weight(1)
	if err != nil || home.Weight.Gate(kg) != nil {
		wrong["weight"] = "Write a weight in " + p.say.unit() + ", as " + number(p.say.weight(4.6), 1) + "."
		return 0
	}
	return kg
}

// without keeps what was measured of the cat: it only lives here no more.
func (f *catForm) without(h home.Household) home.Household {
	h.Cats = slices.DeleteFunc(slices.Clone(h.Cats), func(c home.Cat) bool { return c.ID == f.ID })
	h.Scales = slices.Clone(h.Scales)
	for i, s := range h.Scales {
		h.Scales[i].Cats = slices.DeleteFunc(slices.Clone(s.Cats), func(id string) bool { return id == f.ID })
	}
	return h
}

func (f *catForm) only(h home.Household) home.Household {
	return home.Household{Cats: slices.DeleteFunc(slices.Clone(h.Cats), func(c home.Cat) bool { return !f.New && c.ID != f.ID })}
}
