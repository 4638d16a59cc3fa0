package manual

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
)

// entry is one check or event as the history shows it.
type entry struct {
	ID, Anchor string
	Matter     home.Matter
	at         time.Time
	When, By   string
	What       string
	Parts      []part
	Note       string
	Gone       string // when, by whom and why it was taken back; "" where it stands
	Instead    string // anchor of what took its place
	Correct    string // address of the page that corrects it
	Wrong      string // with the try to take it back
}

type historyView struct {
	Cat     home.Cat
	Entries []entry
	By      string
	Wrong   string
	Target  string
}

// history shows all that was entered for a cat, newest first, and what was
// corrected of it.
func (m *room) history(w http.ResponseWriter, r *http.Request) {
	m.historyPage(w, r, http.StatusOK, "", "")
}

func (m *room) historyPage(w http.ResponseWriter, r *http.Request, status int, target, wrong string) {
	c, err := m.cat(r)
	if err != nil {
		m.fail(w, r, err)
		return
	}
	checks, err1 := m.opts.Diary.EveryCheck(r.Context(), c.ID)
	care, err2 := m.opts.Diary.EveryCare(r.Context(), c.ID)
	corrections, err3 := m.opts.Diary.Corrections(r.Context(), c.ID)
	if err := errors.Join(err1, err2, err3); err != nil {
		m.fail(w, r, err)
		return
	}
	v := historyView{Cat: c, Wrong: wrong, Target: target}
	if len(checks) > 0 {
		v.By = checks[0].By
	}
	for _, check := range checks {
		v.Entries = append(v.Entries, m.checkEntry(check))
	}
	for _, e := range care {
		v.Entries = append(v.Entries, m.careEntry(e))
	}
	for i := range v.Entries {
		m.mark(&v.Entries[i], corrections)
		if v.Entries[i].ID == target {
			v.Entries[i].Wrong = wrong
		}
	}
	slices.SortStableFunc(v.Entries, func(a, b entry) int { return b.at.Compare(a.at) })
	m.show(w, status, "history.html", m.words.say("history.title", "cat", c.Name), v)
}

// cat is the one in the address.
func (m *room) cat(r *http.Request) (home.Cat, error) {
	h, err := m.store.Household(r.Context())
	if err != nil {
		return home.Cat{}, err
	}
	c, ok := h.Cat(r.PathValue("cat"))
	if !ok {
		return c, home.ErrNotFound
	}
	return c, nil
}

func (m *room) checkEntry(c home.HomeCheck) entry {
	e := entry{ID: c.ID, Anchor: anchorOf(c.ID), Matter: home.OfCheck, at: c.Time, When: m.clock(c.Time), By: c.By, Note: c.Note,
		What: m.words.say("form.title"), Correct: "/check/" + c.Cat + "/correct/" + pathOf(c.ID)}
	for _, f := range c.RedFlags {
		e.Parts = append(e.Parts, part{What: m.words.say("stored.flag", "flag", m.words.say("flag."+string(f)))})
	}
	e.Parts = append(e.Parts, m.parts(c)...)
	if n := len(c.Photos); n > 0 {
		e.Parts = append(e.Parts, part{What: m.words.say("history.photos", "n", n)})
	}
	return e
}

// mark says of an entry that it was taken back, where it was.
func (m *room) mark(e *entry, corrections []home.Correction) {
	for _, c := range corrections {
		if c.Matter != e.Matter || c.Target != e.ID {
			continue
		}
		key := "history.replaced"
		if c.Void() {
			key = "history.void"
		} else {
			e.Instead = anchorOf(c.Replacement)
		}
		e.Gone = m.words.say(key, "when", m.clock(c.At), "by", cmp.Or(c.By, m.words.say("history.somebody")), "why", c.Why)
	}
}

// notCorrected says why an entry could not be corrected.
func (m *room) notCorrected(w http.ResponseWriter, r *http.Request, c home.Correction, err error) {
	switch {
	case errors.Is(err, home.ErrCorrected):
		m.historyPage(w, r, http.StatusConflict, c.Target, m.words.say(msgCorrected))
	case errors.Is(err, home.ErrNotFound):
		m.fail(w, r, err)
	default:
		slog.ErrorContext(r.Context(), "store a correction", "err", err)
		m.historyPage(w, r, http.StatusServiceUnavailable, c.Target, m.words.say("wrong.unstored-short")+" "+m.hint(err))
	}
}

// anchorOf is the id of an entry in the page.
func anchorOf(id string) string { return "e-" + digest(id) }

// digest names things by what they are made of.
func digest(of ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(of, "\x00")))
	return hex.EncodeToString(sum[:8])
}
