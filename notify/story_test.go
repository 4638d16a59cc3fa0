package notify

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"weighbeam/home"
)

// diary is what a receiver got, with the day since began.
func diary(r *receiver, began time.Time) string {
	r.mu.Lock()
	defer r.mu.Unlock()
	var b strings.Builder
	for i, m := range r.got {
		fmt.Fprintf(&b, "day %d: %s\n", int(r.at[i].Sub(began)/day), m.Subject)
	}
	return b.String()
}

func days(n int) { time.Sleep(time.Duration(n) * day) }

// Weight slipping for weeks makes exactly one notice, one reminder a week later
// if nobody reacts, one when it worsens, and one when it is over.
func TestStory_WeightSlips(t *testing.T) {
	// With a program that runs on, and with one that is restarted at each turn.
	for _, restarts := range []bool{false, true} {
		t.Run(fmt.Sprintf("restarts %v", restarts), func(t *testing.T) { weightSlips(t, restarts) })
	}
}

func weightSlips(t *testing.T, restarts bool) {
	synctest.Test(t, func(t *testing.T) {
		p := policy(Channel{Name: "phone"})
		p.Reminders = UsualReminders()
		m, phone := newMemory(), &receiver{}
		run := func() running {
			return start(t, immortal(m), []Route{{p.Channels[0], phone}}, Options{Idle: time.Hour, Reactions: m.reactions})
		}
		s := run()
		defer func() { s.stop() }()
		restart := func() {
			if restarts {
				s.stop()
				time.Sleep(time.Minute)
				s = run()
			}
		}
		began := time.Now()
		f := raise(m, p, "juniper", home.Book)
		s.Wake()
		days(6)
		restart()
		days(2)
		f = turn(m, p, f, home.Updated, home.Book)
		restart()
		days(4)
		f = turn(m, p, f, home.Worsened, home.Today)
		s.Wake()
		synctest.Wait()
		m.say(home.VetKnows)
		restart()
		days(10)
		turn(m, p, f, home.Closed, home.Today)
		s.Wake()
		restart()
		days(60)
		synctest.Wait()
		want := `day 0: juniper: weight falling. Book a vet visit.
day 7: Reminder. juniper: weight falling. Book a vet visit.
day 12: Worse. juniper: weight falling. Call the vet today.
day 22: Over. juniper: weight no longer falling.
`
		if got := diary(phone, began); got != want {
			t.Errorf("the phone heard\n%swant\n%s", got, want)
		}
		for _, n := range m.all() {
			if n.State == home.Waiting || n.Reason == "" {
				t.Errorf("left over: %s %s %s", n.ID, n.State, n.Reason)
			}
		}
	})
}

// A history is read in: what is over is not told, what stands is told once, in
// its latest state, whatever turns it took on the way.
func TestStory_History(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := policy(Channel{Name: "phone"})
		p.Reminders = UsualReminders()
		m, phone := newMemory(), &receiver{}
		s := start(t, immortal(m), []Route{{p.Channels[0], phone}}, Options{})
		defer s.stop()
		now := time.Now()
		commit := func(f home.Finding, turn home.Turn, u home.Urgency, ago int) home.Finding {
			at := now.Add(-time.Duration(ago) * day)
			f.Urgency, f.Updated = u, at
			switch turn {
			case home.Raised:
				f.Raised = at
			case home.Closed:
				f.Closed = at
			}
			tr := home.Transition{Turn: turn, At: at, Finding: f}
			m.decide(tr, p.Owed(tr, time.Now()))
			s.Wake()
			time.Sleep(100 * time.Millisecond) // reading a history takes a while
			return f
		}
		gone := example(home.WeightFalling, home.Book)
		gone.Cat = "moss"
		gone = commit(gone, home.Raised, home.Book, 300)
		gone = commit(gone, home.Worsened, home.Now, 290)
		commit(gone, home.Closed, home.Now, 200)
		stands := commit(example(home.WeightFalling, home.Book), home.Raised, home.Book, 40)
		stands = commit(stands, home.Worsened, home.Today, 30)
		commit(stands, home.Updated, home.Today, 20)
		time.Sleep(time.Minute)
		synctest.Wait()
		if got := diary(phone, now); got != "day 0: Worse. juniper: weight falling. Call the vet today.\n" {
			t.Errorf("the phone heard\n%s", got)
		}
		for _, n := range m.all() {
			if n.State == home.Waiting && (n.Turn != home.Reminded || n.Finding == gone.ID()) {
				t.Errorf("left over: %s %s %s", n.ID, n.State, n.Reason)
			}
			if n.Finding == gone.ID() && n.State != home.Withheld {
				t.Errorf("%s: %s %s", n.ID, n.State, n.Reason)
			}
		}
	})
}

// The night: what can wait is held; over by the morning, it is never told, nor
// is its end; worse by the morning, it is told at once and not again.
func TestStory_Night(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := policy(Channel{Name: "phone", Quiet: Quiet{22 * 60, 7 * 60, nil}})
		m, phone := newMemory(), &receiver{}
		s := start(t, immortal(m), []Route{{p.Channels[0], phone}}, Options{})
		defer s.stop()
		began := time.Now() // midnight UTC
		passing := raise(m, p, "moss", home.Book)
		worse := raise(m, p, "juniper", home.Book)
		time.Sleep(3 * time.Hour)
		turn(m, p, passing, home.Closed, home.Book)
		turn(m, p, worse, home.Worsened, home.Now)
		s.Wake()
		synctest.Wait()
		if got := diary(phone, began); got != "day 0: Worse. juniper: weight falling. Go to a vet now.\n" {
			t.Errorf("in the night the phone heard\n%s", got)
		}
		days(2)
		if got := len(phone.messages()); got != 1 {
			t.Errorf("in the end it heard\n%s", diary(phone, began))
		}
	})
}

// The first person's channel is dead: the stand-in is told, once. The second
// person is told if nobody reacts, and not if somebody does.
func TestStory_OthersStepIn(t *testing.T) {
	for _, reacted := range []bool{false, true} {
		t.Run(fmt.Sprintf("reacted %v", reacted), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				p := policy(Channel{Name: "phone"},
					Channel{Name: "mail", For: "phone", After: 15 * time.Minute},
					Channel{Name: "partner", Least: home.Today, After: 2 * time.Hour})
				m := newMemory()
				phone := &receiver{behave: func(context.Context, int, Message) (bool, error) { return false, Unreached("down") }}
				mail, partner := &receiver{}, &receiver{}
				s := start(t, immortal(m), []Route{{p.Channels[0], phone}, {p.Channels[1], mail}, {p.Channels[2], partner}}, Options{Idle: time.Hour, Reactions: m.reactions})
				defer s.stop()
				raise(m, p, "juniper", home.Today)
				raise(m, p, "moss", home.Book)
				s.Wake()
				time.Sleep(time.Hour)
				if reacted {
					m.say(home.SeenTo)
				}
				days(1)
				synctest.Wait()
				if len(mail.messages()) != 2 {
					t.Errorf("the stand-in heard %d times", len(mail.messages()))
				}
				want := 1
				if reacted {
					want = 0
				}
				if len(partner.messages()) != want {
					t.Errorf("the second person heard %d times, want %d", len(partner.messages()), want)
				}
			})
		})
	}
}

// The end of a finding never arrives before its beginning, however late that is.
func TestStory_EndAfterBeginning(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := policy(Channel{Name: "phone"})
		m := newMemory()
		phone := &receiver{behave: func(_ context.Context, try int, _ Message) (bool, error) {
			if try < 10 {
				return false, Unreached("down")
			}
			return true, nil
		}}
		s := start(t, immortal(m), []Route{{p.Channels[0], phone}}, Options{})
		defer s.stop()
		f := raise(m, p, "juniper", home.Today)
		s.Wake()
		time.Sleep(7 * time.Second)
		turn(m, p, f, home.Closed, home.Today)
		s.Wake()
		days(1)
		synctest.Wait()
		got := phone.messages()
		if len(got) != 2 || got[0].ID != m.only(t, home.Raised).ID || got[1].ID != m.only(t, home.Closed).ID {
			t.Errorf("the phone heard\n%s", diary(phone, time.Now()))
		}
	})
}
