package notify

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// sibling is a notice about the same finding, made so long after the first.
func sibling(turn home.Turn, u home.Urgency, channel string, made time.Duration, state home.NoticeState) home.Notice {
	return home.Notice{ID: fmt.Sprintf("%s/%s/%s", turn, made, channel), Finding: "f", Turn: turn, Urgency: u, Channel: channel,
		Created: t0.Add(made), Due: t0.Add(made), State: state}
}

// The decision table of the last look before a notice that waited is sent.
func TestGate_DecisionTable(t *testing.T) {
	open := example(home.WeightFalling, home.Book)
	over := open
	over.Closed = t0.Add(time.Hour)
	past := open
	past.Closed = t0.Add(-time.Hour)
	worse := open
	worse.Urgency = home.Today
	raised := sibling(home.Raised, home.Book, "phone", 0, home.Waiting)
	held := raised
	held.Due = t0.Add(8 * time.Hour)
	tried := raised
	tried.Attempts, tried.Due = 2, t0.Add(time.Minute)
	reminder := sibling(home.Reminded, home.Book, "phone", 0, home.Waiting)
	reminder.Due = t0.Add(7 * day)
	closed := sibling(home.Closed, home.Book, "phone", time.Hour, home.Waiting)
	standIn := sibling(home.Raised, home.Book, "mail", 0, home.Waiting)
	standIn.Due = t0.Add(15 * time.Minute)
	night := raised
	night.Due = t0.Add(12 * time.Hour)
	sent := func(n home.Notice) home.Notice { n.State = home.Sent; return n }
	later := sibling(home.Worsened, home.Today, "phone", time.Hour, home.Sent)
	lesser := sibling(home.Eased, home.Book, "phone", 3*time.Hour, home.Withheld)
	eased := sibling(home.Reminded, home.Book, "phone", 3*time.Hour, home.Waiting)
	worseReminder := sibling(home.Reminded, home.Today, "phone", time.Hour, home.Waiting)
	anew := sibling(home.Worsened, home.Book, "phone", time.Hour, home.Sent)
	anewReminder := sibling(home.Reminded, home.Book, "phone", time.Hour, home.Waiting)
	failing := example(home.ChannelFailing, home.Book)
	seen := []home.Reaction{{Kind: home.SeenTo, At: t0.Add(time.Minute)}}
	rows := []struct {
		name     string
		n        home.Notice
		c        Channel
		finding  home.Finding
		siblings []home.Notice
		said     []home.Reaction
	}{
		{"held, still open", held, Channel{}, open, nil, nil},
		{"held, over meanwhile", held, Channel{}, over, nil, nil},
		{"held, over before it was found", held, Channel{}, past, nil, nil},
		{"held, somebody reacted", held, Channel{}, open, nil, seen},
		{"held, somebody reacted to less before", held, Channel{}, open, nil, []home.Reaction{{Kind: home.VetKnows, At: t0.Add(-time.Minute)}}},
		{"held, snoozed", held, Channel{}, open, nil, []home.Reaction{{Kind: home.Snoozed, At: t0.Add(time.Minute), Until: t0.Add(20 * time.Hour)}}},
		{"held, the snooze is over", held, Channel{}, open, nil, []home.Reaction{{Kind: home.Snoozed, At: t0.Add(time.Minute), Until: t0.Add(9 * time.Hour)}}},
		{"held, snoozed, then explained", held, Channel{}, open, nil, []home.Reaction{{Kind: home.Snoozed, At: t0.Add(time.Minute), Until: t0.Add(20 * time.Hour)}, {Kind: home.Explained, At: t0.Add(time.Hour)}}},
		{"held, somebody reacted, then seen again", held, Channel{}, open, []home.Notice{sibling(home.Worsened, home.Book, "phone", time.Hour, home.Withheld)}, seen},
		{"held, told worse meanwhile", held, Channel{}, worse, []home.Notice{later}, nil},
		{"held, told worse elsewhere only", held, Channel{}, worse, []home.Notice{sibling(home.Worsened, home.Today, "mail", time.Hour, home.Sent)}, nil},
		{"held, worse was withheld", held, Channel{}, worse, []home.Notice{sibling(home.Worsened, home.Today, "phone", time.Hour, home.Withheld)}, nil},
		{"tried, over meanwhile: it may have arrived", tried, Channel{}, over, nil, nil},
		{"tried, told worse meanwhile", tried, Channel{}, worse, []home.Notice{later}, nil},
		{"tried, worse still waits", tried, Channel{}, worse, []home.Notice{sibling(home.Worsened, home.Today, "phone", time.Hour, home.Waiting)}, nil},
		{"reminder, still open", reminder, Channel{}, open, []home.Notice{sent(raised)}, nil},
		{"reminder, over", reminder, Channel{}, over, []home.Notice{sent(raised)}, nil},
		{"reminder, somebody reacted", reminder, Channel{}, open, []home.Notice{sent(raised)}, seen},
		{"reminder, told worse since", reminder, Channel{}, worse, []home.Notice{sent(raised), later}, nil},
		{"reminder, another urgency since", reminder, Channel{}, worse, []home.Notice{sent(raised)}, nil},
		{"reminder, eased since somebody reacted", eased, Channel{}, open, []home.Notice{sent(raised), later, lesser}, []home.Reaction{{Kind: home.VetKnows, At: t0.Add(2 * time.Hour)}}},
		{"reminder, worse since somebody reacted", worseReminder, Channel{}, worse, []home.Notice{sent(raised), later}, seen},
		{"reminder, seen again since somebody reacted", anewReminder, Channel{}, open, []home.Notice{sent(raised), anew}, seen},
		{"reminder, reacted since it was seen again", anewReminder, Channel{}, open, []home.Notice{sent(raised), anew}, []home.Reaction{{Kind: home.VetKnows, At: t0.Add(2 * time.Hour)}}},
		{"end, told before", closed, Channel{}, over, []home.Notice{sent(raised)}, nil},
		{"end, never told", closed, Channel{}, over, []home.Notice{sibling(home.Raised, home.Book, "phone", 0, home.Withheld)}, nil},
		{"end, told elsewhere only", closed, Channel{}, over, []home.Notice{sibling(home.Raised, home.Book, "mail", 0, home.Sent)}, nil},
		{"end, beginning given up", closed, Channel{}, over, []home.Notice{sibling(home.Raised, home.Book, "phone", 0, home.GivenUp)}, nil},
		{"end, beginning under way", closed, Channel{}, over, []home.Notice{tried}, nil},
		{"end, beginning held longer", closed, Channel{}, over, []home.Notice{held}, nil},
		{"end, a reminder waits", closed, Channel{}, over, []home.Notice{sent(raised), reminder}, nil},
		{"end, somebody reacted", closed, Channel{}, over, []home.Notice{sent(raised)}, seen},
		{"stand-in, the other took it", standIn, Channel{Name: "mail", For: "phone"}, open, []home.Notice{sent(raised)}, nil},
		{"stand-in, the other has not", standIn, Channel{Name: "mail", For: "phone"}, open, []home.Notice{tried}, nil},
		{"stand-in, the other gave up", standIn, Channel{Name: "mail", For: "phone"}, open, []home.Notice{sibling(home.Raised, home.Book, "phone", 0, home.GivenUp)}, nil},
		{"stand-in, the other was not to hear it", standIn, Channel{Name: "mail", For: "phone"}, open, []home.Notice{sibling(home.Raised, home.Book, "phone", 0, home.Withheld)}, nil},
		{"stand-in, the other holds it for the night", standIn, Channel{Name: "mail", For: "phone", After: 15 * time.Minute}, open, []home.Notice{night}, nil},
		{"stand-in, the other is what does not work", standIn, Channel{Name: "mail", For: "phone"}, failing, []home.Notice{sibling(home.Raised, home.Book, "phone", 0, home.Withheld)}, nil},
		{"stand-in, over meanwhile", standIn, Channel{Name: "mail", For: "phone"}, over, []home.Notice{tried}, nil},
	}
	var table strings.Builder
	for _, r := range rows {
		v := Gate(r.n, r.c, Facts{Now: t0.Add(10 * time.Hour), Finding: r.finding, Siblings: append(r.siblings, r.n), Reactions: r.said})
		fmt.Fprintf(&table, "%-45s %s\n", r.name, v)
	}
	golden(t, "gate.txt", table.String())
}

// Gate is asked about all that waited, and spares the rest two reads.
func TestAsks(t *testing.T) {
	fresh := sibling(home.Raised, home.Book, "phone", 0, home.Waiting)
	held := fresh
	held.Due = t0.Add(time.Second)
	for _, tt := range []struct {
		n    home.Notice
		want bool
	}{
		// Nothing can have happened since.
		{fresh, false},
		// Held by a rule, or tried before.
		{held, true},
		// An end needs to know whether the beginning was told.
		{sibling(home.Closed, home.Book, "phone", 0, home.Waiting), true},
		// A reminder needs to know whether it still stands.
		{sibling(home.Reminded, home.Book, "phone", 0, home.Waiting), true},
	} {
		if got := Asks(tt.n); got != tt.want {
			t.Errorf("%s due %s: %v", tt.n.Turn, tt.n.Due, got)
		}
	}
}
