package httpapi

import (
	"encoding/json"
	"net/http"
	"strconv"

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
	SetAside string `json:"set_aside,omitempty"` // why something was not read
}

// taken is the answer after the commit.
func taken(readings int, reason error) *answer {
	if readings == 0 && reason != nil {
		return refuse(http.StatusUnprocessableEntity, reason.Error())
	}
	body := result{Taken: readings}
	if reason != nil {
		body.SetAside = reason.Error()
	}
	return newAnswer(http.StatusOK, "application/json", body)
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

// kept is a as it is stored, to be given again to the request of c.
func (a *answer) kept(c *claim) home.Answer {
	return home.Answer{Key: c.key, Request: c.request, Status: a.status, Type: a.header.Get("Content-Type"), Body: a.body}
}

func (a *answer) retryAfter(seconds int) *answer {
	a.header.Set("Retry-After", strconv.Itoa(seconds))
	return a
}
