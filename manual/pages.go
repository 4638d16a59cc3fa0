package manual

import (
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
	m.show(w, http.StatusOK, "choose.html", "Home check", h.Cats)
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
	unit, _ := m.unit()
	typed := url.Values{
		"cat": {c.ID}, "id": {newFormID()}, "unit": {unit}, "window": {"30"},
		"when": {m.opts.Now().In(m.opts.Zone).Format("2006-01-02T15:04")}, "by": {m.lastPerson(r, c.ID)},
	}
	m.showForm(w, http.StatusOK, h, &form{typed: typed})
}

// lastPerson is who did the newest check of the cat: most likely who does this one.
func (m *room) lastPerson(r *http.Request, cat string) string {
	now := m.opts.Now()
	checks, err := m.store.Checks(r.Context(), cat, now.AddDate(0, -3, 0), now.Add(time.Hour))
	if err != nil || len(checks) == 0 {
		return "" // a convenience: the form is as good without it
	}
	return checks[0].By
}

// formView is the form as the template sees it.
type formView struct {
	*form
	Cats   []home.Cat
	Name   string
	List   []complaint
	Fatal  string // why nothing could be stored though all could be read
	Flags  []option
	Wins   []option
	States []option
}

type complaint struct{ Field, Name, Message string }

type option struct {
	Value, Words string
	Chosen       bool
}

// Typed is a field as it was typed.
func (v formView) Typed(field string) string { return v.typed.Get(field) }

// Wrong is what is wrong with a field, or "".
func (v formView) Wrong(field string) string { return v.wrong[field] }

func (m *room) showForm(w http.ResponseWriter, status int, h home.Household, f *form) {
	m.show(w, status, "form.html", "Home check", m.formView(h, f))
}

func (m *room) formView(h home.Household, f *form) formView {
	v := formView{form: f, Cats: h.Cats}
	if c, ok := h.Cat(f.typed.Get("cat")); ok {
		v.Name = c.Name
	}
	for _, field := range fieldOrder {
		if msg := f.wrong[field]; msg != "" {
			v.List = append(v.List, complaint{field, fieldNames[field], msg})
		}
	}
	for _, flag := range home.RedFlags() {
		v.Flags = append(v.Flags, option{string(flag), flag.Words(), has(f.typed["flag"], string(flag))})
	}
	for _, s := range windows() {
		value := strconv.Itoa(s)
		v.Wins = append(v.Wins, option{value, value + " seconds", f.typed.Get("window") == value})
	}
	for _, s := range states() {
		v.States = append(v.States, option{string(s), stateWords(s), f.typed.Get("state") == string(s)})
	}
	return v
}

func has(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}
