package manual

import (
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// formView is the form as the template sees it.
type formView struct {
	*form
	words    catalogue
	Cats     []home.Cat
	Name     string
	List     []complaint
	Fatal    string // why nothing could be stored though all could be read
	Flags    []option
	Sections []sectionView
	Oldest   []sectionView // what to look at first
	Now      nowView       // shown where the house cannot be reached
	Kept     []option      // pictures that came with it before
	Corrects string        // when the entry was made that this takes the place of
	Diary    bool
	All      bool // every fold is open
}

type complaint struct{ Field, Name, Message string }

type option struct {
	Value, Words string
	Chosen       bool
}

// sectionView is one fold of the form.
type sectionView struct {
	section
	Name, Hint, Since string
	Open              bool
	Taps, Tapped      bool // there is "all as usual", and it is chosen
	Parts             []partView
	Counts            []countView // none or one
	Lumps             []lumpView
	Given             []givenView
	Form              *formView
}

// Typed is a field as it was typed.
func (v formView) Typed(field string) string { return v.typed.Get(field) }

// Wrong is what is wrong with a field, or "".
func (v formView) Wrong(field string) string {
	if v.wrong[field] == "" {
		return ""
	}
	return v.words.say(v.wrong[field], v.about[field]...)
}

// options are the choices of a field, with the chosen ones marked.
func (v formView) options(field, words string, values []string) []option {
	out := make([]option, len(values))
	for i, value := range values {
		out[i] = option{value, v.words.say(words + "." + strings.Trim(value, "[]")), slices.Contains(v.typed[field], value)}
	}
	return out
}

func (m *room) showForm(w http.ResponseWriter, r *http.Request, status int, h home.Household, f *form, fatal string) {
	v := m.formView(h, f, m.past(r.Context(), f.typed.Get("cat")), r.FormValue("open") == "all")
	v.Fatal = fatal
	if fatal != "" {
		v.Fatal = m.words.say("form.fatal", "why", fatal)
	}
	title := m.words.say("form.title")
	if v.Name != "" {
		title = m.words.say("form.title-of", "cat", v.Name)
	}
	m.show(w, status, "form.html", title, v)
}

func (m *room) formView(h home.Household, f *form, past []home.HomeCheck, all bool) *formView {
	v := &formView{form: f, All: all, words: m.words, Cats: h.Cats, Diary: m.opts.Diary != nil}
	c, ok := h.Cat(f.typed.Get("cat"))
	if ok {
		v.Name = c.Name
	}
	v.Now = m.nowView(c, nil, notSent)
	for _, field := range inOrder(f.wrong) {
		v.List = append(v.List, complaint{anchor(field), m.words.fieldName(field), v.Wrong(field)})
	}
	for _, flag := range home.RedFlags() {
		v.Flags = append(v.Flags, option{string(flag), m.words.say("flag." + string(flag)), slices.Contains(f.typed["flag"], string(flag))})
	}
	for _, id := range f.ticked("kept") {
		v.Kept = append(v.Kept, option{Value: id, Chosen: true})
	}
	if f.get("corrects") != "" {
		v.Corrects = f.get("corrected-when")
	}
	v.fold(past, m.opts.Now(), m.opts.Zone)
	return v
}

// oldestNamed is how many sections are named and open at first.
const oldestNamed = 2

// fold lays the sections out, what was not looked at for longest first.
func (v *formView) fold(past []home.HomeCheck, now time.Time, zone *time.Location) {
	usual := newUsuals(past)
	for _, s := range offered(past) {
		sv := sectionView{section: s, Name: v.words.say("section." + s.ID), Form: v,
			Since: v.since(s.lookedAt(past), now, zone), Taps: s.tappable(), Tapped: slices.Contains(v.typed["usual"], s.ID)}
		if key := "section-hint." + s.ID; v.words.has(key) {
			sv.Hint = v.words.say(key)
		}
		for _, p := range s.parts {
			for _, side := range sides(p) {
				sv.Parts = append(sv.Parts, v.part(p, side, usual))
			}
		}
		switch s.ID {
		case "breaths":
			sv.Counts = []countView{v.count(breathing)}
		case "heart":
			sv.Counts = []countView{v.count(beating)}
		case "lumps":
			sv.Lumps = v.lumpViews(past, zone)
		case "eating":
			sv.Given = v.givenViews()
		}
		sv.Open = v.All || v.filled(s)
		if !s.last && len(v.Oldest) < oldestNamed {
			sv.Open = sv.Open || len(v.wrong) == 0
			v.Oldest = append(v.Oldest, sv)
		}
		v.Sections = append(v.Sections, sv)
	}
}

// since says when something was last looked at.
func (v *formView) since(last, now time.Time, zone *time.Location) string {
	if last.IsZero() {
		return v.words.say("form.never")
	}
	day := func(t time.Time) time.Time {
		y, mo, d := t.In(zone).Date()
		return time.Date(y, mo, d, 0, 0, 0, 0, time.UTC)
	}
	switch n := int(day(now).Sub(day(last)).Hours() / 24); {
	case n <= 0:
		return v.words.say("form.today")
	case n == 1:
		return v.words.say("form.yesterday")
	default:
		return v.words.say("form.days", "n", n)
	}
}

// filled reports whether anything of a section was filled in, or is wrong.
func (v *formView) filled(s section) bool {
	for field, values := range v.typed {
		if fieldSection(field) == s.ID && strings.Join(values, "") != "" && !preset[field] {
			return true
		}
	}
	for field := range v.wrong {
		if fieldSection(field) == s.ID {
			return true
		}
	}
	return slices.Contains(v.typed["usual"], s.ID)
}

// anchor is the id of a field in the page.
func anchor(field string) string { return strings.ReplaceAll(field, ".", "_") }

// countView is one count as the template sees it.
type countView struct {
	Field, Window, State string
	Name                 string
	Windows, States      []option
	Form                 *formView
}

func (v *formView) count(c counting) countView {
	out := countView{Field: c.field, Window: c.window, State: c.state, Name: v.words.say("count." + c.field), Form: v}
	for _, s := range c.windows {
		value := strconv.Itoa(s)
		out.Windows = append(out.Windows, option{value, v.words.say("count.seconds", "n", s), v.typed.Get(c.window) == value})
	}
	var all []string
	for _, s := range states() {
		all = append(all, string(s))
	}
	out.States = v.options(c.state, "state", all)
	return out
}

// givenView is one row of what was fed and given.
type givenView struct {
	Kind, What, Amount, Taken string // names of its fields
	Kinds, Takens             []option
}

func (v *formView) givenViews() []givenView {
	var rows []givenView
	for row := range givenRows {
		g := givenView{Kind: givenField(row, "kind"), What: givenField(row, "what"), Amount: givenField(row, "amount"), Taken: givenField(row, "taken")}
		var kinds, takens []string
		for _, k := range home.GivenKinds() {
			kinds = append(kinds, string(k))
		}
		for _, t := range home.Takens() {
			takens = append(takens, string(t))
		}
		g.Kinds, g.Takens = v.options(g.Kind, "given-kind", kinds), v.options(g.Taken, "taken", takens)
		rows = append(rows, g)
	}
	return rows
}

func (c catalogue) funcs() template.FuncMap {
	return template.FuncMap{
		"t":      c.say,
		"flag":   func(f home.RedFlag) string { return c.say("flag." + string(f)) },
		"anchor": anchor,
		"text":   fieldOf,
	}
}

// typing is a form as a text field of it needs it.
type typing interface {
	Typed(field string) string
	Wrong(field string) string
}

// field is one text field as the template draws it.
type field struct {
	typing
	Name, Label, Mode string
}

// fieldOf describes a text field: its name, the key of its label and the keyboard
// that it wants.
func fieldOf(v typing, name, label, mode string) field { return field{v, name, label, mode} }

// ID is the id of the field in the page.
func (f field) ID() string { return anchor(f.Name) }
