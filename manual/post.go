package manual

import (
	"context"
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
	came, unread := receive(w, r)
	h, err := m.store.Household(r.Context())
	f := read(came.typed, h, m.opts.Now(), m.opts.Zone)
	f.files = came.photos
	if came.wrong != nil {
		f.fail("photo", came.wrong.Error(), "mb", maxUpload, "n", maxPictures)
	}
	if len(f.check.RedFlags) > 0 {
		m.redFlag(w, r, h, f)
		return
	}
	if unread != nil {
		m.refuse(w, unread)
		return
	}
	if err != nil {
		delete(f.wrong, "cat") // who lives here could not be read: that is not the writer's fault
		m.keep(w, r, h, f, err)
		return
	}
	f.reason()
	if len(f.wrong) > 0 {
		m.again(w, r, h, f)
		return
	}
	t, err := m.append(r.Context(), f)
	switch {
	case errors.Is(err, home.ErrCorrected):
		f.fail("form", msgCorrected)
		m.again(w, r, h, f)
	case err != nil:
		m.keep(w, r, h, f, err)
	default:
		http.Redirect(w, r, storedAt(f, t), http.StatusSeeOther)
	}
}

// reason asks why, where the form corrects an entry.
func (f *form) reason() {
	if f.get("corrects") == "" {
		return
	}
	if f.get("why") == "" {
		f.fail("why", msgWhy)
	}
	if len(f.get("why")) > home.MaxNote {
		f.fail("why", msgNote)
	}
}

func (m *room) refuse(w http.ResponseWriter, err error) {
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		m.problem(w, http.StatusRequestEntityTooLarge, "long")
		return
	}
	m.problem(w, http.StatusBadRequest, "odd")
}

// again shows the form with what is wrong beside each field. Its pictures are kept
// already: a browser does not send a file a second time by itself.
func (m *room) again(w http.ResponseWriter, r *http.Request, h home.Household, f *form) {
	if len(f.files) > 0 {
		if _, err := m.store.Append(r.Context(), home.Batch{Photos: f.files}); err != nil {
			m.keep(w, r, h, f, err)
			return
		}
	}
	m.showForm(w, r, http.StatusUnprocessableEntity, h, f, "")
}

// keep shows the form again with all that was typed, because it could not be stored.
func (m *room) keep(w http.ResponseWriter, r *http.Request, h home.Household, f *form, err error) {
	slog.ErrorContext(r.Context(), "store home check", "err", err)
	m.showForm(w, r, http.StatusServiceUnavailable, h, f, m.hint(err))
}

// append stores the check and does not return before it is on disk.
func (m *room) append(ctx context.Context, f *form) (home.Tally, error) {
	if err := f.check.Valid(); err != nil {
		return home.Tally{}, fmt.Errorf("home check: %w", err)
	}
	b := home.Batch{Checks: []home.HomeCheck{f.check}, Photos: f.files}
	target := f.get("corrects")
	if target == "" || m.opts.Diary == nil {
		return m.store.Append(ctx, b)
	}
	old, err := m.opts.Diary.HomeCheck(ctx, target)
	if err != nil {
		return home.Tally{}, err
	}
	f.unchanged(old, m)
	c := home.Correction{ID: "of/" + f.check.ID, Cat: old.Cat, Matter: home.OfCheck, Target: target, Replacement: f.check.ID,
		At: m.opts.Now().UTC().Truncate(home.TimeStep), By: f.check.By, Why: f.get("why")}
	b.Checks[0] = f.check
	return home.Tally{Stored: 1}, m.opts.Diary.Correct(ctx, c, b)
}

// storedAt is the page that shows what is now in the store.
func storedAt(f *form, t home.Tally) string {
	q := url.Values{}
	if form := f.get("id"); form != "" {
		q.Set("form", form)
	}
	if t.Duplicate > 0 && t.Stored == 0 {
		q.Set("again", "1")
	}
	return "/check/" + f.check.Cat + "/stored/" + f.check.ID + "?" + q.Encode()
}

// redFlag stores what can be stored and goes to the page that says to go now,
// whatever became of it.
func (m *room) redFlag(w http.ResponseWriter, r *http.Request, h home.Household, f *form) {
	f.check.Note = m.withUnread(f)
	if f.get("corrects") != "" && f.get("why") == "" {
		f.typed.Set("why", m.words.say("form.flags"))
	}
	_, err := m.append(r.Context(), f)
	flags := url.Values{}
	if form := f.get("id"); form != "" {
		flags.Set("form", form)
	}
	for _, flag := range f.check.RedFlags {
		flags.Add("flag", string(flag))
	}
	if err != nil {
		slog.ErrorContext(r.Context(), "store red flag", "err", err)
		c, _ := h.Cat(f.check.Cat)
		m.show(w, http.StatusOK, "go.html", m.words.say("now.title"), m.nowView(c, f.check.RedFlags, unstored))
		return
	}
	flags.Set("stored", "1")
	http.Redirect(w, r, "/check/"+f.check.Cat+"/now?"+flags.Encode(), http.StatusSeeOther)
}

// withUnread is the note with whatever could not be read of the form, so that
// nothing typed in a hurry is lost.
func (m *room) withUnread(f *form) string {
	note := f.check.Note
	for _, field := range inOrder(f.wrong) {
		typed := strings.Join(f.typed[field], ", ")
		if strings.TrimSpace(typed) == "" {
			continue
		}
		line := fmt.Sprintf("%s (%s): %s", m.words.say(msgUnread), m.words.fieldName(field), typed)
		if len(note)+len(line)+1 <= home.MaxNote {
			note = strings.TrimSpace(note + "\n" + line)
		}
	}
	return note
}
