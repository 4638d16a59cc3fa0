package app

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"weighbeam/home"
	"weighbeam/manual"
)

// checkPatience bounds the sending of one check.
const checkPatience = 20 * time.Second

// PostCheck hands a home check, as JSON, to the running program whose pages are at
// url. The token is that of a device with the source "hand", or empty on the machine
// of a program that asks for none. An error says what is wrong with which part.
func PostCheck(ctx context.Context, url, token string, body []byte) (manual.CheckAnswer, error) {
	const op = "send a home check"
	var answer manual.CheckAnswer
	ctx, cancel := context.WithTimeout(ctx, checkPatience)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, strings.TrimSuffix(url, "/")+manual.CheckPath, bytes.NewReader(body))
	if err != nil {
		return answer, &home.Error{Op: op, Err: err, Hint: "Give the address of its pages with --url."}
	}
	req.Header.Set("Content-Type", "application/json")
	if token != "" {
		req.Header.Set("Authorization", "Bearer "+token)
	}
	resp, err := asker.Do(req)
	if err != nil {
		return answer, &home.Error{Op: op, Err: err, Hint: "Nothing was stored. Start weighbeam serve, or give the address of its pages with --url, and send it again."}
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(io.LimitReader(resp.Body, mostAsked))
	switch {
	case err != nil:
		return answer, &home.Error{Op: op, Err: err, Hint: "Send the same again, with its id and time: it is stored once."}
	case resp.StatusCode == http.StatusOK, resp.StatusCode == http.StatusCreated:
		return answer, json.Unmarshal(text, &answer)
	}
	return answer, declined(op, resp, text)
}

// declined is why a check was not taken.
func declined(op string, resp *http.Response, text []byte) error {
	var no manual.CheckProblem
	understood := json.Unmarshal(text, &no) == nil && no.Detail != ""
	switch {
	case resp.StatusCode == http.StatusUnauthorized, resp.StatusCode == http.StatusForbidden:
		if !understood { // the door answers with a page
			no.Detail = "the answer was " + resp.Status
		}
		return home.Hinted(op, `Name a file with the token of a device that has "hand" among its sources, with --token-file.`, "%s", no.Detail)
	case !understood:
		return home.Hinted(op, "Is that the address of weighbeam's pages?", "the answer was %s", resp.Status)
	}
	var wrong []string
	for _, e := range no.Errors {
		wrong = append(wrong, fmt.Sprintf("%s: %s", strings.TrimPrefix(strings.TrimPrefix(e.Pointer, "#"), "/"), e.Detail))
	}
	if len(wrong) == 0 {
		return home.Hinted(op, no.Detail, "the answer was %s", resp.Status)
	}
	return home.Hinted(op, no.Detail, "%s", strings.Join(wrong, "\n  "))
}

// GoNow is what red flags ask of a person, with the practice that cfg names.
func GoNow(cfg Config, flags []home.RedFlag) string {
	words, err := cfg.formWords()
	if err != nil {
		words = manual.Words{} // English is better than nothing at such a time
	}
	return manual.GoNow(flags, manual.Options{Vet: cfg.vet, Words: words})
}
