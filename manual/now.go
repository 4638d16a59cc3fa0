package manual

import (
	"html/template"
	"net/http"
	"slices"
	"strings"

	"weighbeam/home"
)

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
	Named           string // the flags in words
	Form            string // the form that it came with, so that its draft can go
}

// now is the page of a red flag. It needs nothing but its address: where the
// household cannot be read it leaves out the cat's name.
func (m *room) now(w http.ResponseWriter, r *http.Request) {
	h, _ := m.store.Household(r.Context())
	c, _ := h.Cat(r.PathValue("cat"))
	var flags []home.RedFlag
	for _, f := range home.RedFlags() {
		if slices.Contains(r.URL.Query()["flag"], string(f)) {
			flags = append(flags, f)
		}
	}
	kept := notSent
	if r.FormValue("stored") != "" {
		kept = isStored
	}
	v := m.nowView(c, flags, kept)
	v.Form = r.FormValue("form")
	m.show(w, http.StatusOK, "go.html", m.words.say("now.title"), v)
}

func (m *room) nowView(c home.Cat, flags []home.RedFlag, kept string) nowView {
	practice, phone := m.opts.Vet()
	v := nowView{Cat: c, Known: c.ID != "", Flags: flags, Practice: practice, Phone: phone, Kept: kept, Tel: tel(phone)}
	var named []string
	for _, f := range flags {
		v.Poison = v.Poison || f == home.Poison
		named = append(named, m.words.say("flag."+string(f)))
	}
	v.Named = strings.Join(named, "; ")
	v.About = m.about(c)
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
func (m *room) about(c home.Cat) string {
	var said []string
	if c.Sex != "" {
		said = append(said, m.words.say("about."+c.Sex))
	}
	if c.Neutered {
		said = append(said, m.words.say("about.neutered"))
	}
	if !c.Born.IsZero() {
		said = append(said, m.words.say("about.born", "year", c.Born.Year()))
	}
	return strings.Join(said, ", ")
}
