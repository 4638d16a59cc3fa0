package manual

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// Answers takes what people say to a finding.
type Answers interface {
	Finding(ctx context.Context, id string) (home.Finding, error) // home.ErrNotFound, wrapped
	React(ctx context.Context, r home.Reaction) error             // one whose ID is known changes nothing
	// Open reads the token of a link that was sent with a notice. The reaction
	// it returns has its ID, Finding and By; the error's words are for the
	// person who followed the link.
	Open(token string, now time.Time) (home.Reaction, error)
}

// answerView is the page on which a person answers a finding.
type answerView struct {
	home.Finding
	ID     string
	Action string // where the form goes
	Linked bool   // the page was reached by a link, which says who answers
	Kinds  []option
	Days   []option
	typed  url.Values
	wrong  map[string]string
	words  catalogue
}

// Typed is a field as it was typed.
func (v answerView) Typed(field string) string { return v.typed.Get(field) }

// Wrong is what is wrong with a field, or "".
func (v answerView) Wrong(field string) string {
	if v.wrong[field] == "" {
		return ""
	}
	return v.words.say(v.wrong[field])
}

// snoozes are the days after which one may ask to be reminded.
func snoozes() []int { return []int{1, 3, 7, 14, 30} }

func kinds() []home.ReactionKind {
	return []home.ReactionKind{home.SeenTo, home.VetKnows, home.Explained, home.Snoozed}
}

// begun is the reaction as far as the address says it: by the token of a link,
// or by the finding of a page.
func (m *room) begun(r *http.Request) (home.Reaction, error) {
	if token := r.PathValue("token"); token != "" {
		return m.opts.Answers.Open(token, m.opts.Now())
	}
	return home.Reaction{Finding: r.FormValue("finding")}, nil
}

// ask shows the form. Following a link changes nothing by itself: mail programs
// follow links on their own.
func (m *room) ask(w http.ResponseWriter, r *http.Request) {
	m.answerPage(w, r, http.StatusOK, url.Values{"days": {"3"}, "id": {newFormID()}}, nil)
}

func (m *room) answerPage(w http.ResponseWriter, r *http.Request, status int, typed url.Values, wrong map[string]string) {
	begun, err := m.begun(r)
	if err != nil {
		m.show(w, http.StatusForbidden, "problem.html", m.words.say("answer.not"), trouble{m.words.say("answer.link"), sentence(err)})
		return
	}
	f, err := m.opts.Answers.Finding(r.Context(), begun.Finding)
	if err != nil {
		m.fail(w, r, err)
		return
	}
	v := answerView{Finding: f, ID: f.ID(), Action: r.URL.Path, Linked: r.PathValue("token") != "", typed: typed, wrong: wrong, words: m.words}
	for _, k := range kinds() {
		v.Kinds = append(v.Kinds, option{string(k), m.words.say("reaction." + string(k)), typed.Get("kind") == string(k)})
	}
	for _, d := range snoozes() {
		value := strconv.Itoa(d)
		v.Days = append(v.Days, option{value, m.days(d), typed.Get("days") == value})
	}
	m.show(w, status, "answer.html", m.words.say("answer.page"), v)
}

// answer takes the form.
func (m *room) answer(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxFields)
	if err := r.ParseForm(); err != nil {
		m.refuse(w, err)
		return
	}
	begun, err := m.begun(r)
	if err != nil {
		m.answerPage(w, r, 0, nil, nil) // says why
		return
	}
	reaction, wrong := readAnswer(begun, r.PostForm, m.opts.Now())
	if len(wrong) == 0 {
		if err = m.opts.Answers.React(r.Context(), reaction); err == nil {
			http.Redirect(w, r, "/findings/"+reaction.Finding+"#said", http.StatusSeeOther)
			return
		}
		slog.ErrorContext(r.Context(), "store answer", "err", err)
		wrong = map[string]string{"form": m.words.say(msgUnstored) + " " + m.hint(err)}
		m.answerPage(w, r, http.StatusServiceUnavailable, r.PostForm, wrong)
		return
	}
	m.answerPage(w, r, http.StatusUnprocessableEntity, r.PostForm, wrong)
}

// readAnswer makes a reaction of what was typed.
func readAnswer(begun home.Reaction, typed url.Values, now time.Time) (home.Reaction, map[string]string) {
	r, wrong := begun, map[string]string{}
	r.At, r.Kind, r.Note = now.UTC().Truncate(home.TimeStep), home.ReactionKind(typed.Get("kind")), strings.TrimSpace(typed.Get("note"))
	if r.By == "" {
		r.By = strings.TrimSpace(typed.Get("by"))
	}
	if r.ID == "" {
		sum := sha256.Sum256([]byte(typed.Encode()))
		r.ID = "page/" + hex.EncodeToString(sum[:16])
	}
	days, okDays := chosen(typed.Get("days"), snoozes())
	switch {
	case !slices.Contains(kinds(), r.Kind):
		wrong["kind"] = msgKind
	case r.Kind == home.Explained && r.Note == "":
		wrong["note"] = msgExplain
	case r.Kind == home.Snoozed && !okDays:
		wrong["days"] = msgDays
	case r.Kind == home.Snoozed:
		r.Until = r.At.AddDate(0, 0, days)
	}
	if len(r.Note) > home.MaxNote {
		wrong["note"] = msgNote
	}
	if len(r.By) > 200 {
		wrong["by"] = msgBy
	}
	return r, wrong
}

// sentence is an error as a person reads it.
func sentence(err error) string {
	text := err.Error()
	if i := strings.LastIndex(text, ": "); i >= 0 {
		text = text[i+2:]
	}
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

func (m *room) days(d int) string {
	if d == 1 {
		return m.words.say("answer.tomorrow")
	}
	return m.words.say("answer.in-days", "n", d)
}
