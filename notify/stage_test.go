package notify

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"weighbeam/home"

	"pgregory.net/rapid"
)

// zone loads a zone of the tz database, which the test binary may have to embed.
func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// turned is a turn of an example finding at the time at.
func turned(turn home.Turn, u home.Urgency, at time.Time) home.Transition {
	f := example(home.WeightFalling, u)
	f.Updated = at
	if turn == home.Raised {
		f.Raised = at
	}
	if turn == home.Closed {
		f.Closed = at
	}
	return home.Transition{Turn: turn, At: at, Finding: f}
}

// The decision table of the stages: every stage in each state it can be in, at
// noon, at night, and from history.
func TestPolicy_Owed_DecisionTable(t *testing.T) {
	berlin := zone(t, "Europe/Berlin")
	channels := []Channel{
		{Name: "all"},
		{Name: "least-book", Least: home.Book},
		{Name: "least-now", Least: home.Now},
		{Name: "quiet", Quiet: Quiet{22 * 60, 7 * 60, berlin}},
		{Name: "digest", Digest: Digest{true, 8 * 60, berlin}},
		{Name: "both", Quiet: Quiet{22 * 60, 9 * 60, berlin}, Digest: Digest{true, 8 * 60, berlin}},
		{Name: "second", Least: home.Today, After: 2 * time.Hour},
		{Name: "stand-in", Least: home.Today, After: 15 * time.Minute, For: "all"},
	}
	times := []struct {
		name    string
		at, now time.Time
	}{
		{"noon", time.Date(2026, 7, 1, 10, 0, 0, 0, time.UTC), time.Date(2026, 7, 1, 10, 0, 1, 0, time.UTC)},
		{"night", time.Date(2026, 7, 1, 1, 0, 0, 0, time.UTC), time.Date(2026, 7, 1, 1, 0, 1, 0, time.UTC)},
		{"history", time.Date(2026, 5, 1, 1, 0, 0, 0, time.UTC), time.Date(2026, 7, 1, 10, 0, 1, 0, time.UTC)},
	}
	var table strings.Builder
	for _, c := range channels {
		for _, when := range times {
			for _, turn := range []home.Turn{home.Raised, home.Worsened, home.Eased, home.Updated, home.Closed} {
				for _, row := range decisions(c, turn, when.at, when.now) {
					fmt.Fprintf(&table, "%-10s %-7s %-8s %s\n", c.Name, when.name, turn, row)
				}
			}
		}
	}
	golden(t, "stages.txt", table.String())
}

// decisions are the rows of the table for each urgency; those of urgencies that
// share a decision are one row.
func decisions(c Channel, turn home.Turn, at, now time.Time) []string {
	var rows []string
	which := map[string]string{}
	for _, u := range levels {
		d := Policy{}.decide(c, turned(turn, u, at), now)
		wait := "-"
		if !d.due.IsZero() {
			wait = d.due.Sub(now).String()
		}
		row := fmt.Sprintf("%-8s %-10s %s", d.state, wait, d.reason)
		if which[row] == "" {
			rows = append(rows, row)
		}
		which[row] += " " + string(u)
	}
	for i, row := range rows {
		rows[i] = fmt.Sprintf("%-23s %s", strings.TrimSpace(which[row]), row)
	}
	return rows
}

func TestPolicy_Owed_NobodyConfigured(t *testing.T) {
	owed := Policy{}.Owed(turned(home.Raised, home.Now, t0), t0)
	if len(owed) != 1 || owed[0].Channel != Page || owed[0].State != home.Withheld || owed[0].Reason != ReasonNobody {
		t.Fatalf("owed %+v", owed)
	}
	if owed[0].Subject == "" || owed[0].Body == "" || owed[0].Created != t0 {
		t.Errorf("nothing to show: %+v", owed[0])
	}
}

// A notice can be answered where there is something to answer, and over the
// channel that it came by.
func TestPolicy_Owed_Reply(t *testing.T) {
	p := Policy{Channels: []Channel{{Name: "phone"}}, Reply: func(finding, channel string, _ time.Time) string {
		return "http://h/answer/" + channel + "/" + finding
	}}
	for _, turn := range []home.Turn{home.Raised, home.Worsened, home.Closed} {
		tr := turned(turn, home.Book, t0)
		has := strings.Contains(p.Owed(tr, t0)[0].Body, "http://h/answer/phone/"+tr.Finding.ID()+"\n")
		if has != (turn != home.Closed) {
			t.Errorf("%s: has a link: %v", turn, has)
		}
	}
	p.Channels = nil
	if strings.Contains(p.Owed(turned(home.Raised, home.Book, t0), t0)[0].Body, "http://h/answer") {
		t.Error("the page shows a link that answers without a login")
	}
}

func TestPolicy_Owed_Reminders(t *testing.T) {
	berlin := zone(t, "Europe/Berlin")
	at := time.Date(2026, 7, 1, 21, 0, 0, 0, time.UTC) // 23:00 in Berlin
	tests := []struct {
		name    string
		channel Channel
		turn    home.Turn
		urgency home.Urgency
		want    []time.Duration // from at to each reminder's due time
	}{
		// Growing pauses.
		{"book", Channel{Name: "a"}, home.Raised, home.Book, []time.Duration{7 * day, 21 * day, 49 * day}},
		// A reminder of what can wait keeps quiet hours.
		{"quiet", Channel{Name: "a", Quiet: Quiet{22 * 60, 7 * 60, berlin}}, home.Raised, home.Book,
			[]time.Duration{7*day + 8*time.Hour, 21*day + 8*time.Hour, 49*day + 8*time.Hour}},
		// What cannot wait does not.
		{"urgent", Channel{Name: "a", Quiet: Quiet{22 * 60, 7 * 60, berlin}}, home.Worsened, home.Now,
			[]time.Duration{time.Hour, 6 * time.Hour, day, 3 * day}},
		// Nobody is reminded of what waits for the next visit anyway.
		{"mention", Channel{Name: "a"}, home.Raised, home.Mention, nil},
		// Nor of an end.
		{"closed", Channel{Name: "a"}, home.Closed, home.Book, nil},
		// Eased: the reminders of before are too loud now, these take their place.
		{"eased", Channel{Name: "a"}, home.Eased, home.Book, []time.Duration{7 * day, 21 * day, 49 * day}},
		// Nor of what the channel does not want to hear.
		{"least", Channel{Name: "a", Least: home.Now}, home.Raised, home.Book, nil},
		// The second person was told because nobody reacted; that is enough.
		{"second", Channel{Name: "a", After: time.Hour}, home.Raised, home.Book, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := Policy{Channels: []Channel{tt.channel}, Reminders: UsualReminders()}
			var got []time.Duration
			for _, n := range p.Owed(turned(tt.turn, tt.urgency, at), at) {
				if n.Turn == home.Reminded {
					got = append(got, n.Due.Sub(at))
				}
			}
			if fmt.Sprint(got) != fmt.Sprint(tt.want) {
				t.Errorf("reminders after %v, want %v", got, tt.want)
			}
		})
	}
}

// Whatever the turn and the rules: the ids do not depend on when it is decided,
// none is there twice, each channel has one notice that is no reminder, every
// notice has a reason, and what cannot wait is never held.
func TestPolicy_Owed_Invariants(t *testing.T) {
	zones := []*time.Location{nil, zone(t, "Europe/Berlin"), zone(t, "America/St_Johns"), zone(t, "Australia/Lord_Howe")}
	rapid.Check(t, func(t *rapid.T) {
		var p Policy
		p.Reminders = UsualReminders()
		for i := range rapid.IntRange(1, 4).Draw(t, "channels") {
			clock := rapid.IntRange(0, 24*60-1)
			z := rapid.SampledFrom(zones).Draw(t, "zone")
			p.Channels = append(p.Channels, Channel{
				Name:   fmt.Sprintf("c%d", i),
				Least:  rapid.SampledFrom(append(levels, "")).Draw(t, "least"),
				Quiet:  Quiet{Clock(clock.Draw(t, "from")), Clock(clock.Draw(t, "to")), z},
				Digest: Digest{rapid.Bool().Draw(t, "digest"), Clock(clock.Draw(t, "at")), z},
			})
		}
		at := t0.Add(time.Duration(rapid.Int64Range(0, int64(2*365*day)).Draw(t, "time")))
		turn := turned(rapid.SampledFrom(turns[:4]).Draw(t, "turn"), rapid.SampledFrom(levels).Draw(t, "urgency"), at)
		now := at.Add(time.Duration(rapid.Int64Range(0, int64(400*day)).Draw(t, "lag")))
		checkOwed(t, p, turn, now)
	})
}

func checkOwed(t *rapid.T, p Policy, turn home.Transition, now time.Time) {
	early, late := p.Owed(turn, turn.At), p.Owed(turn, now)
	ids, heard := map[string]bool{}, map[string]int{}
	for i, n := range late {
		if early[i].ID != n.ID {
			t.Fatalf("id %s became %s", early[i].ID, n.ID)
		}
		if ids[n.ID] {
			t.Fatalf("%s twice", n.ID)
		}
		ids[n.ID] = true
		if n.Reason == "" || n.State != home.Waiting && n.State != home.Withheld {
			t.Fatalf("no reason: %+v", n)
		}
		if n.State == home.Waiting && n.Due.Before(n.Created) {
			t.Fatalf("due before it was made: %+v", n)
		}
		if n.Turn != home.Reminded {
			heard[n.Channel]++
			if n.State == home.Waiting && n.Urgency.Rank() >= home.Today.Rank() && n.Due.Sub(n.Created) > DefaultSettle {
				t.Fatalf("an urgent notice is held: %+v", n)
			}
		}
	}
	for _, c := range p.Channels {
		if heard[c.Name] != 1 {
			t.Fatalf("%s: %d notices", c.Name, heard[c.Name])
		}
	}
}

func TestPolicy_Valid(t *testing.T) {
	tests := []struct {
		name string
		p    Policy
		want string // part of the error, "" for none
	}{
		// Every rule at once is fine.
		{"good", Policy{Channels: []Channel{{Name: "a", Least: home.Book}, {Name: "b", For: "a", After: time.Hour}}}, ""},
		// The pages own this name.
		{"page", Policy{Channels: []Channel{{Name: Page}}}, "taken by the pages"},
		// A name ends up in ids and headers.
		{"slug", Policy{Channels: []Channel{{Name: "my phone"}}}, "slug"},
		// Two of a name would share notices.
		{"twice", Policy{Channels: []Channel{{Name: "a"}, {Name: "a"}}}, "twice"},
		// A typing error must not silence a channel.
		{"least", Policy{Channels: []Channel{{Name: "a", Least: "urgent"}}}, "least urgency"},
		// A stand-in for nobody would never be told.
		{"for", Policy{Channels: []Channel{{Name: "a", For: "b", After: 1}}}, "no channel"},
		// A stand-in with no pause would always be told.
		{"pause", Policy{Channels: []Channel{{Name: "a"}, {Name: "b", For: "a"}}}, "after how long"},
		// Standing in for oneself is a slip.
		{"self", Policy{Channels: []Channel{{Name: "a", For: "a", After: 1}}}, "itself"},
		// Waiting backwards is a slip.
		{"negative", Policy{Channels: []Channel{{Name: "a", After: -1}}}, "negative"},
	}
	for _, tt := range tests {
		err := tt.p.Valid()
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}
}

// A channel does not tell of itself that it does not work, and is not reminded of
// it; the others are.
func TestPolicy_Owed_ChannelFailing(t *testing.T) {
	p := policy(Channel{Name: "phone"}, Channel{Name: "mail"})
	p.Reminders = UsualReminders()
	f := example(home.ChannelFailing, home.Book)
	owed := p.Owed(home.Transition{Turn: home.Raised, At: t0, Finding: f}, t0)
	count := map[string]int{}
	for _, n := range owed {
		count[n.Channel]++
		if n.Channel == "phone" && (n.State != home.Withheld || n.Reason != ReasonItself) || n.Channel == "mail" && n.State != home.Waiting {
			t.Errorf("%s %s to %s: %s", n.Turn, n.State, n.Channel, n.Reason)
		}
	}
	if count["phone"] != 1 || count["mail"] != 1+len(p.Reminders[home.Book]) {
		t.Errorf("owed %v", count)
	}
}
