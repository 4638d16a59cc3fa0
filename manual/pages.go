package manual

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"weighbeam/home"
)

// choose lists the cats, or goes straight to the only one.
func (m *room) choose(w http.ResponseWriter, r *http.Request) {
	h, err := m.store.Household(r.Context())
	if err != nil {
		m.fail(w, r, err)
		return
	}
	if len(h.Cats) == 1 {
		http.Redirect(w, r, "/check/"+h.Cats[0].ID, http.StatusSeeOther)
		return
	}
	m.show(w, http.StatusOK, "choose.html", m.words.say("form.title"), h.Cats)
}

// blank shows the empty form for a cat.
func (m *room) blank(w http.ResponseWriter, r *http.Request) {
	h, err := m.store.Household(r.Context())
	if err != nil {
		m.fail(w, r, err)
		return
	}
	c, ok := h.Cat(r.PathValue("cat"))
	if !ok {
		m.fail(w, r, home.ErrNotFound)
		return
	}
	m.showForm(w, r, http.StatusOK, h, &form{typed: m.fresh(r.Context(), c)}, "")
}

// fresh is what stands in the form before anything was typed.
func (m *room) fresh(ctx context.Context, c home.Cat) url.Values {
	unit, _ := m.unit()
	degrees := "Cel"
	if unit == "lb" {
		degrees = "[degF]"
	}
	typed := url.Values{
		"cat": {c.ID}, "id": {newFormID()}, "unit": {unit}, "temperature-unit": {degrees},
		breathing.window: {strconv.Itoa(breathing.usual)}, beating.window: {strconv.Itoa(beating.usual)},
		"when": {m.opts.Now().In(m.opts.Zone).Format(stampTyped)},
	}
	if checks := m.past(ctx, c.ID); len(checks) > 0 { // most likely the same person does this one
		typed.Set("by", checks[0].By)
	}
	return typed
}

// stampTyped is how a browser writes the time in a form.
const stampTyped = "2006-01-02T15:04"

// remembered is for how long a check counts for what is usual for a cat.
const remembered = 2 * 365 * 24 * time.Hour

// past are the checks that the form is drawn with, newest first. They are a
// convenience: the form is as good without them.
func (m *room) past(ctx context.Context, cat string) []home.HomeCheck {
	now := m.opts.Now()
	checks, err := m.store.Checks(ctx, cat, now.Add(-remembered), now.Add(time.Hour))
	if err != nil {
		return nil
	}
	return checks
}
