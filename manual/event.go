package manual

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
)

// eventView is the form for what was done with or for a cat.
type eventView struct {
	*form
	words    catalogue
	Cat      home.Cat
	Kinds    []option
	Corrects string // when it was entered that this takes the place of
	List     []complaint
	Fatal    string
}

// Typed is a field as it was typed.
func (v eventView) Typed(field string) string { return v.typed.Get(field) }

// Wrong is what is wrong with a field, or "".
func (v eventView) Wrong(field string) string {
	if v.wrong[field] == "" {
		return ""
	}
	return v.words.say(v.wrong[field], v.about[field]...)
}

// event shows the empty form, or one entry to be corrected.
func (m *room) event(w http.ResponseWriter, r *http.Request) {
	c, err := m.cat(r)
	if err != nil {
		m.fail(w, r, err)
		return
	}
	unit, _ := m.unit()
	typed := url.Values{"id": {newFormID()}, "unit": {unit}, "from": {m.opts.Now().In(m.opts.Zone).Format(stampTyped)}}
	if id := r.FormValue("corrects"); id != "" {
		old, err := m.care(r.Context(), c.ID, id)
		if err != nil {
			m.fail(w, r, err)
			return
		}
		m.careFields(old, typed)
	}
	m.eventPage(w, http.StatusOK, c, &form{typed: typed}, "")
}

func (m *room) eventPage(w http.ResponseWriter, status int, c home.Cat, f *form, fatal string) {
	v := eventView{form: f, words: m.words, Cat: c, Fatal: fatal, Corrects: f.get("corrects")}
	for _, k := range home.CareKinds() {
		v.Kinds = append(v.Kinds, option{string(k), m.words.say("care." + string(k)), f.get("kind") == string(k)})
	}
	for _, field := range eventFields {
		if f.wrong[field] != "" {
			v.List = append(v.List, complaint{field, m.words.say("event." + field), v.Wrong(field)})
		}
	}
	m.show(w, status, "event.html", m.words.say("event.title", "cat", c.Name), v)
}

// eventFields are the fields of an event in the order of the page.
var eventFields = []string{"form", "kind", "from", "until", "words", "target", "pace", "shift", "by", "why"}

// care is one event of a cat by its id.
func (m *room) care(ctx context.Context, cat, id string) (home.Care, error) {
	all, err := m.opts.Diary.EveryCare(ctx, cat)
	i := slices.IndexFunc(all, func(c home.Care) bool { return c.ID == id })
	if err == nil && i < 0 {
		err = home.ErrNotFound
	}
	if err != nil {
		return home.Care{}, err
	}
	return all[i], nil
}

// careFields fills in what e would be read from.
func (m *room) careFields(e home.Care, typed url.Values) {
	unit, per := m.unit()
	for field, value := range map[string]string{"corrects": e.ID, "kind": string(e.Kind), "words": e.Words, "by": e.By,
		"from": e.From.In(m.opts.Zone).Format(stampTyped)} {
		typed.Set(field, value)
	}
	if !e.Until.IsZero() {
		typed.Set("until", e.Until.In(m.opts.Zone).Format(stampTyped))
	}
	if e.Plan != nil {
		typed.Set("target", shortest(e.Plan.TargetKg/per, 3))
		if e.Plan.MostPerWk > 0 {
			typed.Set("pace", shortest(e.Plan.MostPerWk, 2))
		}
	}
	if e.StepKg != 0 {
		typed.Set("shift", shortest(e.StepKg/per, 3))
	}
	typed.Set("unit", unit)
}

// postEvent takes the form.
func (m *room) postEvent(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxFields)
	if err := r.ParseForm(); err != nil {
		m.refuse(w, err)
		return
	}
	c, err := m.cat(r)
	if err != nil {
		m.fail(w, r, err)
		return
	}
	f, e := readEvent(r.PostForm, c.ID, m.opts.Now(), m.opts.Zone)
	if len(f.wrong) > 0 {
		m.eventPage(w, http.StatusUnprocessableEntity, c, f, "")
		return
	}
	if target := f.get("corrects"); target != "" {
		k := home.Correction{ID: "of/" + e.ID, Cat: c.ID, Matter: home.OfCare, Target: target, Replacement: e.ID, At: e.Told, By: e.By, Why: f.get("why")}
		err = m.opts.Diary.Correct(r.Context(), k, home.Batch{Care: []home.Care{e}})
	} else {
		_, err = m.store.Append(r.Context(), home.Batch{Care: []home.Care{e}})
	}
	switch {
	case errors.Is(err, home.ErrCorrected):
		f.fail("form", msgCorrected)
		m.eventPage(w, http.StatusConflict, c, f, "")
	case err != nil:
		slog.ErrorContext(r.Context(), "store an event", "err", err)
		m.eventPage(w, http.StatusServiceUnavailable, c, f, m.words.say("form.fatal", "why", m.hint(err)))
	default:
		http.Redirect(w, r, fmt.Sprintf("/check/%s/history#%s", c.ID, anchorOf(e.ID)), http.StatusSeeOther)
	}
}

// readEvent makes an event of what was typed, as far as it goes.
func readEvent(typed url.Values, cat string, now time.Time, zone *time.Location) (*form, home.Care) {
	f := &form{typed: typed, wrong: map[string]string{}, about: map[string][]any{}}
	e := home.Care{ID: "event/" + digest(cat, typed.Encode()), Cat: cat, Kind: home.CareKind(f.get("kind")), Told: now.UTC().Truncate(home.TimeStep),
		Words: f.get("words"), By: f.get("by"), From: f.moment("from", zone), Until: f.moment("until", zone)}
	switch {
	case !slices.Contains(home.CareKinds(), e.Kind):
		f.fail("kind", msgKind)
	case f.get("from") == "":
		f.fail("from", msgWhenEmpty)
	case !e.Until.IsZero() && !e.Kind.Spans():
		f.fail("until", "wrong.no-end")
	case !e.Until.IsZero() && !e.Until.After(e.From):
		f.fail("until", "wrong.end")
	case len(e.Words) > home.MaxNote:
		f.fail("words", msgNote)
	case len(e.By) > 200:
		f.fail("by", msgBy)
	}
	f.figures(&e)
	f.reason()
	if err := e.Valid(); err != nil && len(f.wrong) == 0 {
		f.fail("words", "wrong.words")
	}
	return f, e
}

// moment is a time as typed, zero where the field is empty or cannot be used.
func (f *form) moment(field string, zone *time.Location) time.Time {
	if f.get(field) == "" {
		return time.Time{}
	}
	for _, layout := range stampLayouts {
		if t, err := time.ParseInLocation(layout, f.get(field), zone); err == nil {
			if t.Year() < 1990 || t.Year() > 2200 {
				f.fail(field, msgLongAgo)
				return time.Time{}
			}
			return t.UTC()
		}
	}
	f.fail(field, msgWhen)
	return time.Time{}
}

// figures reads what a plan or a step needs.
func (f *form) figures(e *home.Care) {
	per := kgPer[f.get("unit")]
	switch {
	case e.Kind == home.PlanAgreed && per > 0:
		target, ok := f.mass("target")
		kg := target.Value * per
		if ok && home.Weight.Gate(kg) != nil {
			f.fail("target", "wrong.target")
		}
		e.Plan = &home.Plan{From: e.From, Until: e.Until, TargetKg: kg, AgreedWith: e.Words, MostPerWk: f.pace()}
	case e.Kind == home.Step && per > 0:
		text := f.get("shift")
		less := strings.HasPrefix(text, "-") || strings.HasPrefix(text, "−")
		n, wrong := parseMass(strings.TrimLeft(text, "-−+"), f.get("unit"))
		if e.StepKg = n.Value * per; less {
			e.StepKg = -e.StepKg
		}
		switch {
		case wrong != "":
			f.fail("shift", wrong)
		case e.StepKg == 0 || e.StepKg > 5 || e.StepKg < -5:
			f.fail("shift", "wrong.shift")
		}
	case per == 0:
		f.fail("form", msgUnit)
	}
}

// pace is the most that may be lost a week in percent, 0 for the usual most.
func (f *form) pace() float64 {
	if f.get("pace") == "" {
		return 0
	}
	n, wrong := parseNumber(f.get("pace"))
	switch {
	case wrong != "":
		f.fail("pace", wrong)
	case n.Value < 0.1 || n.Value > 5:
		f.fail("pace", msgRange, "lo", 0.1, "hi", 5)
	}
	return n.Value
}

func (m *room) careEntry(e home.Care) entry {
	out := entry{ID: e.ID, Anchor: anchorOf(e.ID), Matter: home.OfCare, at: e.From, When: m.clock(e.From), By: e.By, Note: e.Words,
		What: m.words.say("care." + string(e.Kind)), Correct: "/check/" + e.Cat + "/event?corrects=" + url.QueryEscape(e.ID)}
	if !e.Until.IsZero() {
		out.When = m.words.say("history.span", "from", out.When, "until", m.clock(e.Until))
	}
	if e.Plan != nil {
		out.Parts = append(out.Parts, part{What: m.words.say("history.plan", "target", m.mass(e.Plan.TargetKg), "pace", shortest(e.Plan.Most(), 2))})
	}
	if e.StepKg != 0 {
		unit, per := m.unit()
		out.Parts = append(out.Parts, part{What: m.words.say("history.step", "shift", fmt.Sprintf("%+.3g %s", e.StepKg/per, unit))})
	}
	return out
}

func pathOf(id string) string { return url.PathEscape(id) }
