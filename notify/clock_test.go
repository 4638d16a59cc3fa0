package notify

import (
	"testing"
	"testing/synctest"
	"time"

	"weighbeam/home"
)

// A clock that ran an hour or a year ahead dated some notices, and one has no date at
// all; the clock is right now.
func TestSender_Mend_ClockRanAhead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, phone := newMemory(), &receiver{}
		now, ahead := time.Now(), time.Now().Add(365*day)
		put := func(id string, created, due, decided time.Time) {
			f := example(home.WeightFalling, home.Book)
			f.Cat = id
			m.findings[id] = f
			m.notices[id] = home.Notice{ID: id, Finding: id, Turn: home.Raised, Channel: "phone",
				Created: created, Due: due, Decided: decided, State: home.Waiting}
			if n := m.notices[id]; !decided.IsZero() {
				n.Attempts = 3
				m.notices[id] = n
			}
		}
		never, hour := time.Time{}, now.Add(time.Hour)
		put("at once", ahead, ahead, never)
		put("held", ahead, ahead.Add(7*time.Hour), never)
		put("retry", now.Add(-time.Hour), ahead.Add(30*time.Second), ahead)
		put("retry, an hour ahead", now.Add(-time.Minute), hour.Add(30*time.Second), hour)
		put("without a date", never, never, never)
		put("reminder", now, now.Add(7*day), never)
		s := start(t, immortal(m), []Route{{Channel{Name: "phone"}, phone}}, Options{})
		defer s.stop()
		arrived := func() int { return len(phone.copies()) }
		time.Sleep(time.Minute)
		synctest.Wait()
		if arrived() != 4 {
			t.Errorf("at once %d were told, want 4", arrived())
		}
		time.Sleep(7 * time.Hour)
		synctest.Wait()
		if arrived() != 5 {
			t.Errorf("after the hold %d were told, want 5", arrived())
		}
		time.Sleep(7 * day)
		synctest.Wait()
		if arrived() != 6 {
			t.Errorf("after a week %d were told, want 6", arrived())
		}
	})
}

// A store that fails when the dates are looked at is asked again: until then an urgent
// notice would wait for the day that a wrong clock showed.
func TestSender_Mend_StoreFailed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, phone, ahead := newMemory(), &receiver{}, time.Now().Add(365*day)
		f := example(home.RedFlagSeen, home.Now)
		m.decide(home.Transition{Turn: home.Raised, At: ahead, Finding: f}, policy(Channel{Name: "phone"}).Owed(home.Transition{Turn: home.Raised, At: ahead, Finding: f}, ahead))
		m.setFail(errDead)
		s := start(t, immortal(m), []Route{{Channel{Name: "phone"}, phone}}, Options{})
		defer s.stop()
		time.Sleep(time.Minute)
		m.setFail(nil)
		time.Sleep(time.Minute)
		if synctest.Wait(); len(phone.messages()) != 1 {
			t.Errorf("it took %d messages", len(phone.messages()))
		}
	})
}

func TestClockWatch_SetBack(t *testing.T) {
	var shown time.Time
	c := newClockWatch(func() time.Time { return shown })
	steps := []struct {
		to   time.Duration
		want bool
	}{
		// Running on, and standing still.
		{time.Minute, false}, {time.Minute, false},
		// Set forward, then back, and back again.
		{5 * time.Hour, false}, {4 * time.Hour, true}, {3 * time.Hour, true},
		// Running on from there.
		{3*time.Hour + time.Second, false},
	}
	for i, s := range steps {
		shown = time.Time{}.Add(s.to)
		if got := c.setBack(); got != s.want {
			t.Errorf("step %d: %v", i, got)
		}
	}
}
