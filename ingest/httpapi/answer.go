package httpapi

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// answer is a response.
type answer struct {
	status int
	header http.Header
	body   []byte
}

func (a *answer) write(w http.ResponseWriter) {
	for name, values := range a.header {
		w.Header()[name] = values
	}
	w.WriteHeader(a.status)
	w.Write(a.body) // a client that has gone learns nothing more from an error here
}

// result is the body of an answer to what was read, at least in part.
type result struct {
	Taken    int    `json:"taken"`               // readings committed, new or known
	SetAside string `json:"set_aside,omitempty"` // why something was not read, or not believed
}

// outcome is what becomes of a body, known once it is settled.
type outcome struct {
	readings []home.Reading
	reason   error          // what could not be read
	refused  map[int]string // what contradicts the store, by its place in readings
}

// refuse is called within the commit, and again where that is tried again.
func (o *outcome) refuse(i int, why string) {
	if o.refused == nil {
		o.refused = map[int]string{}
	}
	o.refused[i] = why
}

// refusedTold is how many readings that contradict the store are named.
const refusedTold = 3

// why is why something was set aside, "" for nothing.
func (o *outcome) why() string {
	var all []string
	if o.reason != nil {
		all = append(all, o.reason.Error())
	}
	for n, i := range slices.Sorted(maps.Keys(o.refused)) {
		if n == refusedTold {
			all = append(all, fmt.Sprintf("and %d more", len(o.refused)-n))
			break
		}
		r := o.readings[i]
		all = append(all, fmt.Sprintf("%s %s at %s: %s", r.Source, r.Quantity, r.Time.Format(time.RFC3339Nano), o.refused[i]))
	}
	return strings.Join(all, "\n")
}

// answer is what is answered after the commit.
func (o *outcome) answer() *answer {
	taken, why := len(o.readings)-len(o.refused), o.why()
	if taken == 0 && why != "" {
		return refuse(http.StatusUnprocessableEntity, why)
	}
	return newAnswer(http.StatusOK, "application/json", result{Taken: taken, SetAside: why})
}

// kept is the answer as it is stored, to be given again to the request of c.
func (o *outcome) kept(c *claim) home.Answer {
	return home.Answer{Key: c.key, Request: c.request, Fill: func(a *home.Answer) {
		given := o.answer()
		a.Status, a.Type, a.Body = given.status, given.header.Get("Content-Type"), given.body
	}}
}

// problem is an error body of RFC 9457.
type problem struct {
	Title  string `json:"title"`
	Status int    `json:"status"`
	Detail string `json:"detail"`
}

func refuse(status int, detail string) *answer {
	return newAnswer(status, "application/problem+json", problem{http.StatusText(status), status, detail})
}

func newAnswer(status int, contentType string, body any) *answer {
	text, err := json.Marshal(body)
	if err != nil {
		panic("httpapi: " + err.Error()) // the two bodies above always marshal
	}
	return &answer{status, http.Header{"Content-Type": {contentType}}, append(text, '\n')}
}

// again is the answer of an earlier request.
func again(a home.Answer) *answer {
	return &answer{a.Status, http.Header{"Content-Type": {a.Type}}, a.Body}
}

func (a *answer) retryAfter(seconds int) *answer {
	a.header.Set("Retry-After", strconv.Itoa(seconds))
	return a
}
