package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"time"

	"weighbeam/home"
)

// scalesPath is where a scale is calibrated over HTTP: below it, SOURCE/load says
// what a scale says now, and SOURCE/calibrations takes known loads.
const scalesPath = "/api/v1/scales/"

// calibrateAsk is what is sent to calibrate a scale, and calibrateAnswer what comes back.
type calibrateAsk struct {
	Calibration home.Calibration `json:"calibration"`
	Keep        bool             `json:"keep"`
}

type calibrateAnswer struct {
	Calibration home.Calibration `json:"calibration"`
	Verdict     string           `json:"verdict"`
	Kept        bool             `json:"kept"`
}

type calibrateRefusal struct {
	Error string `json:"error"`
	Hint  string `json:"hint,omitempty"`
}

// mostAsked is how much a request to calibrate may hold, bytes.
const mostAsked = 1 << 20

// calibrateAPI serves a bench over HTTP. Other sites cannot use it through a
// reader's browser.
func calibrateAPI(b Bench) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+scalesPath+"{source}/load", func(w http.ResponseWriter, r *http.Request) {
		live, err := b.Live(r.Context(), r.PathValue("source"))
		answerJSON(w, live, err)
	})
	mux.HandleFunc("POST "+scalesPath+"{source}/calibrations", func(w http.ResponseWriter, r *http.Request) {
		var ask calibrateAsk
		if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, mostAsked)).Decode(&ask); err != nil {
			answerJSON(w, nil, fmt.Errorf("this is no calibration: %w", err))
			return
		}
		ask.Calibration.Source = r.PathValue("source")
		fit, err := b.Fit(r.Context(), ask.Calibration, ask.Keep)
		answerJSON(w, calibrateAnswer{fit, fit.Verdict(), ask.Keep}, err)
	})
	return http.NewCrossOriginProtection().Handler(mux)
}

func answerJSON(w http.ResponseWriter, body any, err error) {
	status := http.StatusOK
	if err != nil {
		status, body = http.StatusUnprocessableEntity, calibrateRefusal{err.Error(), home.Hint(err)}
		if errors.Is(err, home.ErrNotFound) {
			status = http.StatusNotFound
		}
	}
	text, err := json.Marshal(body)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(append(text, '\n')) // a reader that left is no fault of the program
}

// HTTPBench calibrates over the running program whose pages are at URL, with the
// token of a device that may send for the scale; none where the program asks for none.
type HTTPBench struct{ URL, Token string }

// benchPatience bounds one request; the program answers from its own disk.
const benchPatience = 10 * time.Second

// asker follows no redirect: where people sign in, that leads to a form.
var asker = &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}

// Live is what the scale says now.
func (b HTTPBench) Live(ctx context.Context, source string) (live home.LiveLoad, err error) {
	return live, b.ask(ctx, http.MethodGet, url.PathEscape(source)+"/load", nil, &live)
}

// Fit is the line through the points of c, kept by the program where keep says so.
func (b HTTPBench) Fit(ctx context.Context, c home.Calibration, keep bool) (home.Calibration, error) {
	body, err := json.Marshal(calibrateAsk{c, keep})
	if err != nil {
		return c, err
	}
	var answer calibrateAnswer
	err = b.ask(ctx, http.MethodPost, url.PathEscape(c.Source)+"/calibrations", body, &answer)
	return answer.Calibration, err
}

// Answers reports whether a program is there to ask.
func (b HTTPBench) Answers(ctx context.Context) bool {
	_, err := b.Live(ctx, "any")
	var away *url.Error
	return !errors.As(err, &away)
}

func (b HTTPBench) ask(ctx context.Context, method, path string, body []byte, into any) error {
	const op = "ask the running program"
	ctx, cancel := context.WithTimeout(ctx, benchPatience)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, method, b.URL+scalesPath+path, bytes.NewReader(body))
	if err != nil {
		return &home.Error{Op: op, Err: err, Hint: "Give the address of its pages with --url."}
	}
	if b.Token != "" {
		req.Header.Set("Authorization", "Bearer "+b.Token)
	}
	resp, err := asker.Do(req)
	if err != nil {
		return &home.Error{Op: op, Err: err, Hint: "Start weighbeam serve, or give the address of its pages with --url."}
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(io.LimitReader(resp.Body, mostAsked))
	if err != nil {
		return &home.Error{Op: op, Err: err}
	}
	switch resp.StatusCode {
	case http.StatusSeeOther, http.StatusFound, http.StatusUnauthorized, http.StatusForbidden:
		return home.Hinted(op, "Name a file with the token of a device that may send for this scale, with --token-file; or calibrate on the page of the scale, signed in as a keeper.",
			"the program at %s does not let this in", b.URL)
	}
	if resp.StatusCode != http.StatusOK {
		var no calibrateRefusal
		if json.Unmarshal(text, &no) != nil || no.Error == "" {
			return home.Hinted(op, "Is that the address of weighbeam's pages?", "%s answered %s", b.URL, resp.Status)
		}
		err := errors.New(no.Error)
		if resp.StatusCode == http.StatusNotFound {
			err = fmt.Errorf("%w (%w)", err, home.ErrNotFound)
		}
		return &home.Error{Op: op, Hint: no.Hint, Err: err}
	}
	return json.Unmarshal(text, into)
}
