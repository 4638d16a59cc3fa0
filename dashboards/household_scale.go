package dashboards

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"weighbeam/home"
)

// scaleForm is a scale as a browser shows and sends it.
type scaleForm struct {
	ID, Kind, Topic, Payload, Unit, Sends string
	TagTopic, TagPayload                  string // of a reader of microchips beside it
	Cats                                  []string
	New                                   bool
	Kinds                                 []home.Kind
	Units                                 []string
}

func (scaleForm) template() (name, title string) {
	return "household-scale.html", "A scale of this house"
}

func (f *scaleForm) choices() {
	f.Kinds = []home.Kind{home.LitterBox, home.Feeder, home.Water, home.Floor}
	f.Units = home.UnitsOf(home.Load)
}

// Uses reports whether the cat is ticked as one that uses the scale.
func (f *scaleForm) Uses(id string) bool { return slices.Contains(f.Cats, id) }

func (scaleForm) filled(_ *pages, h home.Household, id string) (form, bool) {
	f := &scaleForm{New: id == "", Payload: "senml", Unit: "kg", Sends: string(home.Load)}
	f.choices()
	s, ok := h.Scale(id)
	if !ok {
		return f, id == ""
	}
	f.ID, f.Kind, f.Topic, f.Cats, f.Sends = s.ID, string(s.Kind), s.Topic, s.Cats, string(s.Measures())
	f.TagTopic, f.TagPayload = s.TagTopic, s.TagPayload
	if s.Payload != "" {
		f.Payload = s.Payload
	}
	if s.Unit != "" {
		f.Unit = s.Unit
	}
	return f, true
}

func (f *scaleForm) sent(r *http.Request) {
	v := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
	*f = scaleForm{ID: v("id"), Kind: v("kind"), Topic: v("topic"), Payload: v("payload"), Unit: v("unit"), Sends: v("sends"),
		TagTopic: v("tag-topic"), TagPayload: v("tag-payload"), Cats: r.PostForm["cat"], New: v("new") != ""}
	f.choices()
}

func (f *scaleForm) into(_ context.Context, p *pages, h home.Household) (home.Household, map[string]string) {
	wrong := map[string]string{}
	s := home.Scale{ID: f.ID, Kind: home.Kind(f.Kind), Topic: f.Topic, Payload: f.Payload, Unit: f.Unit, Sends: home.Quantity(f.Sends), Cats: f.Cats,
		TagTopic: f.TagTopic, TagPayload: f.TagPayload}
	if err := home.ValidID("the short name", f.ID); err != nil {
		wrong["id"] = sentence(err)
	} else if _, taken := h.Scale(f.ID); taken && f.New {
		wrong["id"] = "Another scale has this short name."
	}
	if f.Kind == "" {
		wrong["kind"] = "Choose what stands on the scale."
	}
	for field, topic := range map[string]string{"topic": f.Topic, "tag-topic": f.TagTopic} {
		if topic == "" {
			continue
		}
		if err := p.opts.ValidFilter(topic); err != nil {
			wrong[field] = sentence(err)
		}
	}
	if len(wrong) == 0 {
		if err := s.Valid(); err != nil {
			wrong[""] = sentence(err)
		}
	}
	h.Scales = put(h.Scales, s, func(o home.Scale) bool { return o.ID == s.ID })
	if len(wrong) == 0 { // what a payload may be is known to who reads it
		if text, err := p.opts.Householder.Format(home.Household{Scales: []home.Scale{{ID: s.ID, Kind: s.Kind, Payload: s.Payload}}}); err == nil {
			if _, err := p.opts.Householder.Parse(text); err != nil {
				wrong["payload"] = sentence(err)
			}
		}
	}
	return h, wrong
}

func (f *scaleForm) without(h home.Household) home.Household {
	h.Scales = slices.DeleteFunc(slices.Clone(h.Scales), func(s home.Scale) bool { return s.ID == f.ID })
	return h
}

func (f *scaleForm) only(h home.Household) home.Household {
	return home.Household{Scales: slices.DeleteFunc(slices.Clone(h.Scales), func(s home.Scale) bool { return !f.New && s.ID != f.ID })}
}
