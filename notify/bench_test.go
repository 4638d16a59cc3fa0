package notify

import (
	"context"
	"fmt"
	"testing"
	"time"

	"weighbeam/home"
)

// From the commit of a finding to the receiver having it, without the network.
func BenchmarkSender_Tell(b *testing.B) {
	m, got := newMemory(), make(chan string, 1)
	s := start(b, immortal(m), []Route{{Channel{Name: "phone"}, bell(got)}}, Options{})
	defer s.stop()
	p := policy(Channel{Name: "phone"})
	i := 0
	for b.Loop() {
		i++
		m.empty() // what is settled must not slow the search for the next
		raise(m, p, fmt.Sprintf("cat-%d", i), home.Now)
		s.Wake()
		<-got
		for m.waiting() {
			time.Sleep(time.Microsecond)
		}
	}
}

// bell is a transport that rings when a message arrives.
type bell chan string

func (b bell) Send(_ context.Context, m Message) error {
	b <- m.ID
	return nil
}

func (m *memory) empty() {
	m.mu.Lock()
	defer m.mu.Unlock()
	clear(m.notices)
}

func BenchmarkPolicy_Owed(b *testing.B) {
	p := policy(Channel{Name: "phone"}, Channel{Name: "mail", Least: home.Book})
	p.Reminders = UsualReminders()
	t := turned(home.Raised, home.Book, t0)
	for b.Loop() {
		if len(p.Owed(t, t0)) == 0 {
			b.Fatal("nothing owed")
		}
	}
}
