package notify

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"weighbeam/home"
)

func queued(id string, u home.Urgency, due time.Duration, attempts int) home.Notice {
	return home.Notice{ID: id, Turn: home.Raised, Urgency: u, Channel: "phone", Created: t0, Due: t0.Add(due), Attempts: attempts,
		Subject: "Subject of " + id + ".", Body: "Body of " + id + ".\n\n" + home.Caution + "\n"}
}

func TestPick(t *testing.T) {
	now1, now2 := queued("now-1", home.Now, 2, 0), queued("now-2", home.Now, 1, 3)
	calm := func(i int) home.Notice { return queued(fmt.Sprint("calm-", i), home.Book, time.Duration(i), 0) }
	over := now1
	over.ID, over.Turn = "over", home.Closed
	daily := calm(9)
	daily.ID, daily.Turn, daily.Urgency = "daily", home.Daily, home.Mention
	tests := []struct {
		name string
		held []home.Notice
		want []string
	}{
		{"nothing", nil, nil},
		// What falls on the hour of the digest goes with it, however little it is.
		{"digest", []home.Notice{calm(1), daily}, []string{"calm-1", "daily"}},
		{"digest and urgent", []home.Notice{calm(1), daily, now1}, []string{"now-1"}},
		// The longest due goes first.
		{"in order", []home.Notice{calm(2), calm(1)}, []string{"calm-1"}},
		// What cannot wait and was never tried goes before all.
		{"urgent first", []home.Notice{calm(0), now1}, []string{"now-1"}},
		// What was tried and failed takes its turn: it must not starve the others.
		{"failing urgent", []home.Notice{calm(0), now2}, []string{"calm-0"}},
		// That something urgent is over can wait.
		{"over", []home.Notice{over, calm(0)}, []string{"calm-0"}},
		// More than three become one message.
		{"three", []home.Notice{calm(1), calm(2), calm(3)}, []string{"calm-1"}},
		{"four", []home.Notice{calm(1), calm(2), calm(3), calm(4)}, []string{"calm-1", "calm-2", "calm-3", "calm-4"}},
		// What cannot wait is never folded into what can.
		{"not mixed", []home.Notice{calm(1), calm(2), calm(3), calm(4), now1}, []string{"now-1"}},
	}
	for _, tt := range tests {
		var got []string
		for _, n := range pick(tt.held, DefaultFold) {
			got = append(got, n.ID)
		}
		if !slices.Equal(got, tt.want) {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
}

// A message with the digest in it is called what the digest is called.
func TestFold_Digest(t *testing.T) {
	a, b := queued("a", home.Mention, 0, 0), queued("b", home.Mention, 0, 0)
	b.Turn, b.Subject = home.Daily, "Today: 1 open finding"
	if m := fold([]home.Notice{a, b}); m.Subject != b.Subject || strings.Index(m.Body, "Body of b.") > strings.Index(m.Body, "Body of a.") || !strings.Contains(m.Body, "Body of a.") {
		t.Errorf("%+v", m)
	}
}

func TestFold(t *testing.T) {
	batch := []home.Notice{queued("a", home.Book, 0, 0), queued("b", home.Now, 0, 0), queued("c", home.Mention, 0, 0)}
	m := fold(batch)
	if m.Urgency != home.Now || !slices.Equal(m.Notices, []string{"a", "b", "c"}) || !strings.HasPrefix(m.Subject, "3 notices. First: Subject of b.") {
		t.Errorf("%+v", m)
	}
	// The most urgent first, each once in the list and once in full, one caution at the end.
	b, a := strings.Index(m.Body, "Body of b."), strings.Index(m.Body, "Body of a.")
	if b < 0 || a < b || strings.Count(m.Body, "Subject of c.") != 2 || strings.Count(m.Body, home.Caution) != 1 || !strings.HasSuffix(m.Body, home.Caution+"\n") {
		t.Errorf("body\n%s", m.Body)
	}
	// The same notices in another order are the same message.
	slices.Reverse(batch)
	if again := fold(batch); again.ID != m.ID {
		t.Errorf("id %s became %s", m.ID, again.ID)
	}
	if other := fold(batch[:2]); other.ID == m.ID {
		t.Error("other notices have the same id")
	}
	// One notice is itself.
	if one := fold(batch[:1]); one.ID != batch[0].ID || one.Body != batch[0].Body {
		t.Errorf("%+v", one)
	}
}

// A flood stays readable and within what services take.
func TestFold_Flood(t *testing.T) {
	var batch []home.Notice
	for i := range 5000 {
		n := queued(fmt.Sprint("n", i), home.Book, 0, 0)
		n.Subject = strings.Repeat("s", MaxSubject-1)
		batch = append(batch, n)
	}
	m := fold(batch)
	if len(m.Body) > 16<<10 || utf8.RuneCountInString(m.Subject) >= MaxSubject || len(m.Notices) != 5000 {
		t.Errorf("a body of %d bytes, subject %q, %d notices", len(m.Body), m.Subject, len(m.Notices))
	}
}
