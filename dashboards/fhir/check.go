package fhir

import (
	"strconv"
	"strings"

	r4 "github.com/samply/golang-fhir-models/fhir-models/fhir"

	"weighbeam/home"
)

// check is what a person saw, in words; its counts and weights are readings already.
func (b *builder) check(c home.HomeCheck) {
	for _, f := range c.RedFlags {
		b.saw(c, string(f), "red flag seen at home", f.Words(), nil)
	}
	for _, s := range c.Seen {
		what, value, _ := strings.Cut(s.Words(), ": ")
		b.saw(c, "seen/"+string(s.Part)+"/"+string(s.Side), what, value, func(o *r4.Observation) {
			if t, ok := s.Part.Trait(); ok && s.HasNumber {
				o.Component = []r4.ObservationComponent{{Code: text("number"), ValueQuantity: quantity(s.Number, t.Unit)}}
			}
		})
	}
	for _, l := range c.Lumps {
		b.lump(c, l)
	}
	for i, g := range c.Given {
		value := g.What
		for _, more := range []string{g.Amount, taken(g.Taken)} {
			if more != "" {
				value += ", " + more
			}
		}
		b.saw(c, "given/"+strconv.Itoa(i), string(g.Kind)+" given", value, nil)
	}
	if note := strings.TrimSpace(c.Note); note != "" {
		b.saw(c, "note", "note of the keeper", note, nil)
	}
}

func taken(t home.Taken) string {
	if t == "" {
		return ""
	}
	return "took " + string(t)
}

func (b *builder) lump(c home.HomeCheck, l home.Lump) {
	place := l.Place.Words()
	if l.Side != "" {
		place = string(l.Side) + " " + place
	}
	value := "there"
	if l.Gone {
		value = "not there any more"
	}
	if note := strings.TrimSpace(l.Note); note != "" {
		value += "; " + note
	}
	b.saw(c, "lump/"+l.ID, "lump "+l.ID, value, func(o *r4.Observation) {
		o.BodySite = to(text(place))
		for _, d := range []struct {
			words string
			mm    float64
		}{{"length", l.LengthMm}, {"width", l.WidthMm}, {"height", l.HeightMm}} {
			if d.mm > 0 {
				o.Component = append(o.Component, r4.ObservationComponent{Code: text(d.words), ValueQuantity: quantity(d.mm, "mm")})
			}
		}
	})
}

// saw is one part of a check: what was looked at, and what it was like.
func (b *builder) saw(c home.HomeCheck, part, what, value string, more func(*r4.Observation)) {
	key := c.Cat + "/check/" + c.ID + "/" + part
	o := b.said("Observation", key, c.Time)
	o.Category, o.Code = []r4.CodeableConcept{coded(category, "exam", "Exam")}, text(what)
	o.Performer = []r4.Reference{{Display: to(person(c.By))}}
	o.ValueString = to(value)
	if more != nil {
		more(&o)
	}
	b.add("Observation", key, o)
	b.ofCheck[c.ID] = append(b.ofCheck[c.ID], r4.Reference{Reference: to(url("Observation", key))})
}

// person is how somebody calls himself, or what is known of him.
func person(by string) string {
	if by = strings.TrimSpace(by); by != "" {
		return by
	}
	return "a person at home"
}
