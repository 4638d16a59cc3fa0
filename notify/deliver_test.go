package notify

import (
	"testing"
	"testing/synctest"
	"time"

	"weighbeam/home"
)

// Many turns of a history are due at once, and most of them are overtaken: the
// two that are left go each by itself, not as one message about two.
func TestSender_Run_FoldsOnlyWhatIsLeft(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m, phone, p := newMemory(), &receiver{}, policy(Channel{Name: "phone"})
		for _, cat := range []string{"juniper", "moss"} {
			old := turned(home.Raised, home.Mention, time.Now().Add(-40*day))
			old.Finding.Cat = cat
			m.decide(old, p.Owed(old, time.Now()))
			worse := old
			worse.Turn, worse.At, worse.Finding.Urgency = home.Worsened, time.Now().Add(-30*day), home.Book
			m.decide(worse, p.Owed(worse, time.Now()))
		}
		s := start(t, immortal(m), []Route{{Channel{Name: "phone"}, phone}}, Options{})
		defer s.stop()
		time.Sleep(DefaultSettle + time.Second)
		synctest.Wait()
		got := phone.messages()
		if len(got) != 2 {
			t.Fatalf("the phone got %+v", got)
		}
		for _, message := range got {
			if len(message.Notices) != 1 {
				t.Errorf("%q carries %d notices", message.Subject, len(message.Notices))
			}
		}
	})
}
