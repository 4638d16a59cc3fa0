package notify

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"weighbeam/home"
)

// A chart that cannot be drawn, or not in time, holds nothing up.
func TestSender_Run_Chart(t *testing.T) {
	tests := []struct {
		name string
		draw func(context.Context, string) (Chart, error)
		want string
	}{
		// It goes with the notice.
		{"drawn", func(context.Context, string) (Chart, error) { return Chart{PNG: []byte("png")}, nil }, "png"},
		// The notice goes without it.
		{"fails", func(context.Context, string) (Chart, error) { return Chart{}, errors.New("no data") }, ""},
		{"hangs", func(ctx context.Context, _ string) (Chart, error) { <-ctx.Done(); return Chart{}, ctx.Err() }, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				m, phone := newMemory(), &receiver{}
				s := start(t, immortal(m), []Route{{Channel{Name: "phone", Chart: true}, phone}}, Options{Chart: tt.draw})
				defer s.stop()
				raise(m, policy(Channel{Name: "phone"}), "juniper", home.Now)
				s.Wake()
				time.Sleep(DefaultDeadline / 2)
				synctest.Wait()
				if got := phone.messages(); len(got) != 1 || string(got[0].Chart.PNG) != tt.want {
					t.Errorf("the phone got %+v", got)
				}
			})
		})
	}
}

func TestSender_Try(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		behave := func(context.Context, int, Message) (bool, error) { return true, nil }
		phone := &receiver{behave: func(ctx context.Context, n int, m Message) (bool, error) { return behave(ctx, n, m) }}
		s := start(t, immortal(newMemory()), []Route{{Channel{Name: "phone"}, phone}}, Options{})
		defer s.stop()
		// It arrives, and health knows.
		if err := s.Try(t.Context(), "phone"); err != nil || len(phone.messages()) != 1 || s.Health().Channels[0].Took.IsZero() {
			t.Errorf("%v, health %+v", err, s.Health())
		}
		// It does not: said without a secret.
		behave = func(context.Context, int, Message) (bool, error) { return false, errors.New("hunter2") }
		var f *Failure
		if err := s.Try(t.Context(), "phone"); !errors.As(err, &f) || err.Error() != "it failed without saying why" {
			t.Error(err)
		}
		// It hangs: left at the deadline.
		behave = func(ctx context.Context, _ int, _ Message) (bool, error) { <-ctx.Done(); return false, ctx.Err() }
		if err := s.Try(t.Context(), "phone"); !errors.As(err, &f) || f.Why != "it did not answer in time" {
			t.Error(err)
		}
		if len(s.Health().Problems()) != 1 {
			t.Errorf("health says %q", s.Health().Problems())
		}
		// There is no such channel.
		if err := s.Try(t.Context(), "fax"); !errors.Is(err, home.ErrNotFound) {
			t.Error(err)
		}
	})
}

// The same turn decided on two ways is one notice.
func TestSender_Run_DecidedTwice(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, phone, p := newMemory(), &receiver{}, policy(Channel{Name: "phone"})
		s := start(t, immortal(m), []Route{{p.Channels[0], phone}}, Options{})
		defer s.stop()
		tr := turned(home.Raised, home.Book, time.Now())
		for range 3 {
			m.decide(tr, p.Owed(tr, time.Now()))
			s.Wake()
			time.Sleep(time.Hour)
		}
		synctest.Wait()
		if len(phone.messages()) != 1 {
			t.Errorf("told %d times", len(phone.messages()))
		}
	})
}

// Stopping lets a try finish within its grace, and cuts off one that does not.
func TestSender_Run_Stops(t *testing.T) {
	tests := []struct {
		name   string
		takes  time.Duration
		within time.Duration
		state  home.NoticeState
	}{
		// Slow, but done before the grace is over.
		{"slow", 3 * time.Second, 3 * time.Second, home.Sent},
		// Too slow: nobody knows whether it arrived, the next run sends it again.
		{"hung", time.Hour, DefaultGrace, home.Waiting},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				m := newMemory()
				phone := &receiver{behave: func(ctx context.Context, _ int, _ Message) (bool, error) {
					select {
					case <-ctx.Done():
						return false, ctx.Err()
					case <-time.After(tt.takes):
						return true, nil
					}
				}}
				s := start(t, immortal(m), []Route{{Channel{Name: "phone"}, phone}}, Options{})
				raise(m, policy(Channel{Name: "phone"}), "juniper", home.Book)
				s.Wake()
				synctest.Wait()
				began := time.Now()
				s.stop()
				if took := time.Since(began); took > tt.within {
					t.Errorf("it stopped after %s", took)
				}
				if n := m.only(t, home.Raised); n.State != tt.state || n.Attempts != 1 {
					t.Errorf("%s at try %d", n.State, n.Attempts)
				}
			})
		})
	}
}

// A notice for a channel that was taken out of the configuration is withheld, and says
// so: nothing is wrong with that.
func TestSender_Run_ChannelGone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMemory()
		raise(m, policy(Channel{Name: "old"}), "juniper", home.Book)
		s := start(t, immortal(m), nil, Options{})
		defer s.stop()
		synctest.Wait()
		if n := m.only(t, home.Raised); n.State != home.Withheld || !strings.Contains(n.Reason, "no longer configured") {
			t.Errorf("%s: %s", n.State, n.Reason)
		}
		if h := s.Health(); len(h.Problems()) > 0 || len(h.Channels) > 0 {
			t.Errorf("health is %+v", h)
		}
	})
}

// That a notice had to be given up is a problem until the channel takes something.
func TestSender_Health_GivenUpIsOver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := newMemory()
		phone := &receiver{behave: func(_ context.Context, try int, _ Message) (bool, error) {
			if try <= 2 {
				return false, Refused("no such number")
			}
			return true, nil
		}}
		s := start(t, immortal(m), []Route{{Channel{Name: "phone"}, phone}}, Options{})
		defer s.stop()
		for i, want := range []ChannelHealth{{InARow: 1, GivenUp: 1}, {InARow: 2, GivenUp: 2, Lost: true}, {}} {
			raise(m, policy(Channel{Name: "phone"}), fmt.Sprintf("cat-%d", i), []home.Urgency{home.Mention, home.Today, home.Mention}[i])
			s.Wake()
			synctest.Wait()
			h := s.Health()
			if c := h.Channels[0]; c.InARow != want.InARow || c.GivenUp != want.GivenUp || c.Lost != want.Lost || (len(h.Problems()) == 2) != (want.GivenUp > 0) {
				t.Errorf("after notice %d: %+v, %q", i, c, h.Problems())
			}
		}
		if p := s.Health().Problems(); p != nil {
			t.Errorf("it took the last one, and health still says %q", p)
		}
	})
}
