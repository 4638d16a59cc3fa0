package manual

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// Namer takes what people say of a visit: whose it was.
type Namer interface {
	Visits(ctx context.Context, source string, from, to time.Time) ([]home.Visit, error)
	Name(ctx context.Context, n home.Naming) error // in place of what was said before
}

// guest stands in the form for somebody who does not live here. It is no slug,
// so no cat can have it as its id.
const guest = "*"

// longestStay is longer than any visit: the store finds visits by their end.
const longestStay = 6 * time.Hour

type namingView struct {
	Visit  home.Visit
	When   string
	Mass   string
	Action string
	Who    []option
	By     string
	Wrong  string
	Trace  string // address of the picture of its load, "" for none
}

// visit is the one that the address names, by its scale and its start in
// microseconds of Unix time.
func (m *room) visit(r *http.Request) (home.Visit, error) {
	micros, err := strconv.ParseInt(r.PathValue("start"), 10, 64)
	if err != nil {
		return home.Visit{}, home.ErrNotFound
	}
	start := time.UnixMicro(micros).UTC()
	visits, err := m.opts.Namer.Visits(r.Context(), r.PathValue("source"), start, start.Add(longestStay))
	for _, v := range visits {
		if v.Start.Equal(start) {
			return v, nil
		}
	}
	if err == nil {
		err = home.ErrNotFound
	}
	return home.Visit{}, err
}

// whose asks whose a visit was.
func (m *room) whose(w http.ResponseWriter, r *http.Request) {
	m.whosePage(w, r, http.StatusOK, "")
}

func (m *room) whosePage(w http.ResponseWriter, r *http.Request, status int, wrong string) {
	visit, err := m.visit(r)
	if err != nil {
		m.fail(w, r, err)
		return
	}
	h, err := m.store.Household(r.Context())
	if err != nil {
		m.fail(w, r, err)
		return
	}
	v := namingView{
		Visit: visit, Action: r.URL.Path, By: r.PostFormValue("by"), Wrong: wrong,
		When: visit.Start.In(m.opts.Zone).Format("2 Jan 2006, 15:04"), Mass: m.visitMass(visit),
	}
	if m.opts.Traces && visit.End.After(visit.Start) {
		v.Trace = fmt.Sprintf("/sources/%s/visits/%d/trace.svg", visit.Source, visit.Start.UnixMicro())
	}
	chosen := r.PostFormValue("who")
	if chosen == "" {
		chosen = visit.Cat
	}
	for _, c := range h.Cats {
		v.Who = append(v.Who, option{c.ID, c.Name, c.ID == chosen})
	}
	v.Who = append(v.Who, option{guest, m.words.say("whose.guest"), guest == chosen})
	m.show(w, status, "whose.html", m.words.say("whose.title"), v)
}

func (m *room) visitMass(v home.Visit) string {
	if v.MassKg <= 0 {
		return ""
	}
	unit, per := m.unit()
	return fmt.Sprintf("%.2f %s", v.MassKg/per, unit)
}

// name takes the answer.
func (m *room) name(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxFields)
	if err := r.ParseForm(); err != nil {
		m.refuse(w, err)
		return
	}
	h, err := m.store.Household(r.Context())
	if err != nil {
		m.fail(w, r, err)
		return
	}
	visit, err := m.visit(r)
	if err != nil {
		m.fail(w, r, err)
		return
	}
	n := home.Naming{Source: visit.Source, Start: visit.Start, Cat: r.PostFormValue("who"), By: strings.TrimSpace(r.PostFormValue("by")), At: m.opts.Now().UTC().Truncate(home.TimeStep)}
	if wrong := wrongName(h, &n); wrong != "" {
		m.whosePage(w, r, http.StatusUnprocessableEntity, m.words.say(wrong))
		return
	}
	if err := m.opts.Namer.Name(r.Context(), n); err != nil {
		slog.ErrorContext(r.Context(), "store whose a visit was", "err", err)
		m.whosePage(w, r, http.StatusServiceUnavailable, m.words.say(msgUnstored)+" "+m.hint(err))
		return
	}
	http.Redirect(w, r, "/sources/"+n.Source+"?told=1", http.StatusSeeOther)
}

// wrongName says what is wrong with an answer, and turns the form's guest into
// the store's.
func wrongName(h home.Household, n *home.Naming) string {
	if len(n.By) > 200 {
		return msgBy
	}
	if n.Cat == guest {
		n.Cat = ""
		return ""
	}
	if _, ok := h.Cat(n.Cat); !ok {
		return msgCat
	}
	return ""
}
