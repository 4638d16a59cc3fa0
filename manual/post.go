package manual

import (
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"strings"

	"weighbeam/home"
)

// post takes a filled-in form. A red flag goes its own way first: nothing that
// is wrong with the form or the store may keep a person from being told to go.
func (m *room) post(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxBody)
	if err := r.ParseForm(); err != nil {
		m.refuse(w, err)
		return
	}
	h, err := m.store.Household(r.Context())
	f := read(r.PostForm, h, m.opts.Now(), m.opts.Zone)
	if len(f.check.RedFlags) > 0 {
		m.redFlag(w, r, h, f)
		return
	}
	if err != nil {
		delete(f.wrong, "cat") // who lives here could not be read: that is not the writer's fault
		m.keep(w, r, h, f, err)
		return
	}
	if len(f.wrong) > 0 {
		m.showForm(w, http.StatusUnprocessableEntity, h, f)
		return
	}
	t, err := m.append(r, f)
	if err != nil {
		m.keep(w, r, h, f, err)
		return
	}
	http.Redirect(w, r, storedAt(f.check, t), http.StatusSeeOther)
}

func (m *room) refuse(w http.ResponseWriter, err error) {
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		m.show(w, http.StatusRequestEntityTooLarge, "problem.html", "Too long",
			trouble{"What was sent is too long to take in.", "Go back, where it still stands, and shorten the note."})
		return
	}
	m.show(w, http.StatusBadRequest, "problem.html", "Not understood",
		trouble{"What was sent is not a form.", "Go back and send it again."})
}

// keep shows the form again with all that was typed, because it could not be stored.
func (m *room) keep(w http.ResponseWriter, r *http.Request, h home.Household, f *form, err error) {
	slog.ErrorContext(r.Context(), "store home check", "err", err)
	v := m.formView(h, f)
	v.Fatal = hint(err)
	m.show(w, http.StatusServiceUnavailable, "form.html", "Not stored", v)
}

// append stores the check and does not return before it is on disk.
func (m *room) append(r *http.Request, f *form) (home.Tally, error) {
	if err := f.check.Valid(); err != nil {
		return home.Tally{}, fmt.Errorf("home check: %w", err)
	}
	return m.store.Append(r.Context(), home.Batch{Checks: []home.HomeCheck{f.check}})
}

// storedAt is the page that shows what is now in the store.
func storedAt(c home.HomeCheck, t home.Tally) string {
	at := "/check/" + c.Cat + "/stored/" + c.ID
	if t.Duplicate > 0 && t.Stored == 0 {
		at += "?again=1"
	}
	return at
}

// redFlag stores what can be stored and goes to the page that says to go now,
// whatever became of it.
func (m *room) redFlag(w http.ResponseWriter, r *http.Request, h home.Household, f *form) {
	f.check.Note = withUnread(f)
	_, err := m.append(r, f)
	flags := url.Values{}
	for _, flag := range f.check.RedFlags {
		flags.Add("flag", string(flag))
	}
	if err != nil {
		slog.ErrorContext(r.Context(), "store red flag", "err", err)
		c, _ := h.Cat(f.check.Cat)
		m.show(w, http.StatusOK, "now.html", "Go to a vet now", m.nowView(c, f.check.RedFlags, unstored))
		return
	}
	flags.Set("stored", "1")
	http.Redirect(w, r, "/check/"+f.check.Cat+"/now?"+flags.Encode(), http.StatusSeeOther)
}

// withUnread is the note with whatever could not be read of the form, so that
// nothing typed in a hurry is lost.
func withUnread(f *form) string {
	note := f.check.Note
	for _, field := range fieldOrder {
		typed := f.get(field)
		if f.wrong[field] == "" || typed == "" {
			continue
		}
		line := fmt.Sprintf("%s (%s): %s", msgUnread, fieldNames[field], typed)
		if len(note)+len(line)+1 <= home.MaxNote {
			note = strings.TrimSpace(note + "\n" + line)
		}
	}
	return note
}
