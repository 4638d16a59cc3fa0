package notify

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"
)

type transportFunc func(context.Context, Message) error

func (f transportFunc) Send(ctx context.Context, m Message) error { return f(ctx, m) }

// An alarm reaches every channel that works, whatever another does, and asks no store.
func TestSender_Alarm(t *testing.T) {
	heard := make(chan Message, 2)
	takes := transportFunc(func(_ context.Context, m Message) error { heard <- m; return nil })
	fails := transportFunc(func(context.Context, Message) error { return errors.New("gone") })
	s := New(nil, []Route{{Channel: Channel{Name: "phone"}, Transport: takes}, {Channel: Channel{Name: "house"}, Transport: fails}, {Channel: Channel{Name: "ada"}, Transport: takes}}, Options{})
	m := Deaf("The disk is full.", time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC))
	if took := s.Alarm(t.Context(), m); !slices.Equal(took, []string{"ada", "phone"}) {
		t.Errorf("took %v", took)
	}
	for range 2 {
		if got := <-heard; got.ID != "deaf/2026-03-03T12:00:00Z" {
			t.Errorf("heard %+v", got)
		}
	}
}
