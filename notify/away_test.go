package notify

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"weighbeam/home"
)

// A receiver was away for hours, so that the pauses before the next try are long, and is
// there again. Nothing that cannot wait waits for a pause to end, and what else waits goes
// as soon as the receiver takes anything.
func TestSender_Run_ReceiverIsBack(t *testing.T) {
	for _, row := range []struct {
		name string
		then func(s running, m *memory) // when it is back
		want int                        // messages at once
	}{
		// Nobody knows that it is back.
		{"nothing", func(running, *memory) {}, 0},
		// What can wait rests with the channel.
		{"not urgent", func(s running, m *memory) { raise(m, policy(Channel{Name: "phone"}), "cosmo", home.Book); s.Wake() }, 0},
		// What cannot is tried at once, and takes the other along.
		{"urgent", func(s running, m *memory) { raise(m, policy(Channel{Name: "phone"}), "cosmo", home.Now); s.Wake() }, 2},
		// Somebody who mended it tries it: the trial, and what waited.
		{"tried", func(s running, _ *memory) { _ = s.Try(context.Background(), "phone") }, 2},
		// A store that fails at that moment is asked again soon.
		{"tried while the store fails", func(s running, m *memory) {
			m.setFail(errDead)
			_ = s.Try(context.Background(), "phone")
			time.Sleep(3 * time.Second)
			m.setFail(nil)
			time.Sleep(time.Minute)
		}, 2},
	} {
		t.Run(row.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				m, back := newMemory(), false
				phone := &receiver{behave: func(context.Context, int, Message) (bool, error) {
					if !back {
						return false, Unreached("it is away")
					}
					return true, nil
				}}
				s := start(t, immortal(m), []Route{{Channel{Name: "phone"}, phone}}, Options{})
				defer s.stop()
				raise(m, policy(Channel{Name: "phone"}), "juniper", home.Now)
				s.Wake()
				time.Sleep(5 * time.Hour)
				synctest.Wait()
				back = true
				row.then(s, m)
				time.Sleep(time.Second)
				synctest.Wait()
				if got := len(phone.messages()); got != row.want {
					t.Errorf("at once it took %d messages, want %d", got, row.want)
				}
				time.Sleep(time.Hour)
				synctest.Wait()
				for id, n := range phone.copies() {
					if n != 1 {
						t.Errorf("%s came %d times", id, n)
					}
				}
			})
		})
	}
}

// One message that a receiver does not take is tried as seldom as ever, though the
// receiver takes others.
func TestSender_Run_OneIsNotTaken(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, refused := newMemory(), 0
		phone := &receiver{behave: func(_ context.Context, _ int, got Message) (bool, error) {
			if got.Urgency == home.Now {
				refused++
				return false, Unreached("too long")
			}
			return true, nil
		}}
		s := start(t, immortal(m), []Route{{Channel{Name: "phone"}, phone}}, Options{})
		defer s.stop()
		raise(m, policy(Channel{Name: "phone"}), "juniper", home.Now)
		for range 60 {
			raise(m, policy(Channel{Name: "phone"}), "cosmo", home.Book)
			s.Wake()
			time.Sleep(30 * time.Second)
		}
		if synctest.Wait(); refused > 12 || len(phone.messages()) < 50 {
			t.Errorf("%d times refused, %d messages taken", refused, len(phone.messages()))
		}
	})
}
