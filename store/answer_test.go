package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"testing"

	"weighbeam/home"
)

func answerOf(n int) home.Answer {
	a := home.Answer{Status: 200, Type: "application/json", Body: []byte{byte(n), byte(n >> 8)}}
	binary.BigEndian.PutUint64(a.Key[:], uint64(n))
	a.Request[0] = byte(n)
	return a
}

// An answer is kept with what it answers for, or not at all.
func TestDB_Answer_CommittedTogether(t *testing.T) {
	db := fresh(t)
	first := answerOf(1)
	if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{weight(t0, 1, 4.5)}, Answers: []home.Answer{first}}); err != nil {
		t.Fatal(err)
	}
	got, found, err := db.Answer(t.Context(), first.Key)
	if err != nil || !found || got.Status != 200 || got.Type != first.Type || got.Request != first.Request || !bytes.Equal(got.Body, first.Body) {
		t.Errorf("%+v, %v, %v", got, found, err)
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	lost := answerOf(2)
	if _, err := db.Append(ended, home.Batch{Answers: []home.Answer{lost}}); !errors.Is(err, context.Canceled) {
		t.Fatalf("%v", err)
	}
	if _, found, err := db.Answer(t.Context(), lost.Key); found || err != nil {
		t.Errorf("%v, %v", found, err)
	}
}

// The first answer to a key stands; the newest ten thousand stay.
func TestDB_Answer_FirstStandsOldestGoes(t *testing.T) {
	db := fresh(t)
	var all []home.Answer
	for n := range keptAnswers + 3 {
		all = append(all, answerOf(n))
	}
	twice := answerOf(keptAnswers)
	twice.Status = 500
	for _, b := range [][]home.Answer{all, {twice}} {
		if _, err := db.Append(t.Context(), home.Batch{Answers: b}); err != nil {
			t.Fatal(err)
		}
	}
	for _, tt := range []struct {
		n    int
		kept bool
	}{{0, false}, {2, false}, {3, true}, {keptAnswers, true}, {keptAnswers + 2, true}} {
		got, found, err := db.Answer(t.Context(), answerOf(tt.n).Key)
		if err != nil || found != tt.kept || found && got.Status != 200 {
			t.Errorf("%d: %+v, %v, %v", tt.n, got, found, err)
		}
	}
}
