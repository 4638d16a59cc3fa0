package notify

import (
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

func house() home.Household {
	return home.Household{
		Cats:   []home.Cat{juniper, {ID: "moss", Name: "Moss"}, {ID: "wren", Name: "Wren"}, {ID: "fern", Name: "Fern"}},
		Scales: []home.Scale{{ID: "box-1"}, {ID: "box-2"}, {ID: "box-3"}},
	}
}

// day is one with a cat of each kind: unwell, well, unseen, and not known yet.
func exampleDay() Day {
	falling := example(home.WeightFalling, home.Book)
	falling.Raised = t0.Add(-9 * day)
	breaths := example(home.BreathingHigh, home.Today)
	breaths.Raised = t0.Add(-time.Hour)
	over := closedCopy(example(home.WeightRising, home.Mention))
	over.Cat, over.Closed = "moss", t0.Add(-2*time.Hour)
	return Day{
		Since: t0.Add(-day), Findings: []home.Finding{falling, breaths, over},
		Outlooks: []home.Outlook{
			{Cat: "juniper", LastKg: t0.Add(-3 * time.Hour), Weight: home.Figure{Known: true, Value: 4.41}},
			{Cat: "moss", LastKg: t0.Add(-4 * time.Hour), Weight: home.Figure{Known: true, Value: 5.202},
				Month: home.Change{Known: true, Pct: 0.42, Lo: -0.1, Hi: 0.9}},
			{Cat: "wren", LastKg: t0.Add(-50 * time.Hour)},
			{Cat: "fern", Unknown: []string{"The usual weight: 12 more weighings on 9 days."}},
		},
		Sources: []home.SourceStatus{{Source: "box-1", Arrived: t0.Add(-time.Hour)}, {Source: "box-2", Arrived: t0.Add(-70 * time.Hour)},
			{Source: home.Hand, Arrived: t0.Add(-900 * time.Hour)}},
		Checks:   map[string]time.Time{"juniper": t0.Add(-40 * day), "moss": t0.Add(-day), "fern": t0.Add(-2 * day)},
		Troubles: []string{"The channel phone has failed 5 times in a row: it cannot be reached."},
	}
}

func TestPolicy_Daily(t *testing.T) {
	p := Policy{House: house(), Words: Words{Base: "http://192.168.1.5:8080/"},
		Channels: []Channel{{Name: "phone"}, {Name: "mail", Digest: Digest{true, 8 * 60, zone(t, "Pacific/Auckland")}}}}
	at := t0.Add(4 * time.Hour)
	n := p.Daily(p.Channels[1], exampleDay(), at, at.Add(-time.Minute))
	if n.Channel != "mail" || n.Turn != home.Daily || n.State != home.Waiting || !n.Due.Equal(at) {
		t.Fatalf("owed %+v", n)
	}
	// The date is the one on the wall of the house: 13:00 UTC is the next day there.
	if n.ID != "daily/2026-11-26/mail" {
		t.Errorf("id %s", n.ID)
	}
	// Made late, after the program was down over that hour, it is the same digest, due at once.
	again := p.Daily(p.Channels[1], Day{}, at, at.Add(20*time.Hour))
	if again.ID != n.ID || !again.Due.Equal(at.Add(20*time.Hour)) {
		t.Errorf("the same day has the ids %s and %s, due %s", n.ID, again.ID, again.Due)
	}
	golden(t, "daily.txt", n.Subject+"\n\n"+strings.Replace(n.Body, home.Caution+"\n", "", 1))
	if !strings.HasSuffix(n.Body, "\n"+home.Caution+"\n") {
		t.Error("no caution")
	}
}

// A day without anything says so, and never that all is well.
func TestPolicy_Daily_Empty(t *testing.T) {
	p := Policy{House: house(), Channels: []Channel{{Name: "mail", Digest: Digest{On: true}}}}
	n := p.Daily(p.Channels[0], Day{Since: t0.Add(-day), Outlooks: []home.Outlook{{Cat: "moss"}}}, t0, t0)
	if n.Subject != "Today: nothing found" || !strings.Contains(n.Body, "Moss was never weighed.") || strings.Contains(strings.ToLower(n.Body), "well") {
		t.Errorf("%s\n%s", n.Subject, n.Body)
	}
}

// A digest is of no finding: nothing is looked up before it is sent.
func TestAsks_Daily(t *testing.T) {
	if Asks(home.Notice{Turn: home.Daily, Created: t0, Due: t0.Add(time.Hour), Attempts: 2}) {
		t.Error("a finding is looked up for a digest")
	}
}

// What is due comes round as often as the cat's stage of life asks: a home check for a
// senior after 14 days, for others after 28; an exam after half a year, or one.
func TestPolicy_Daily_DueByStageOfLife(t *testing.T) {
	p := Policy{House: home.Household{Cats: []home.Cat{
		{ID: "old", Name: "Old", Born: t0.AddDate(-15, 0, 0)}, {ID: "young", Name: "Young", Born: t0.AddDate(-3, 0, 0)}}}}
	for _, row := range []struct {
		check, exam int // days ago
		want        []string
	}{
		{14, 182, nil},
		{15, 183, []string{"A home check of Old", "A visit of Old"}},
		{28, 365, []string{"A home check of Old", "A visit of Old"}},
		{29, 366, []string{"A home check of Old", "A visit of Old", "A home check of Young", "A visit of Young"}},
	} {
		check, exam := t0.Add(-time.Duration(row.check)*day), t0.Add(-time.Duration(row.exam)*day)
		d := Day{Checks: map[string]time.Time{"old": check, "young": check}, Exams: map[string]time.Time{"old": exam, "young": exam}}
		lines := p.due(d, t0)
		if len(lines) != len(row.want) {
			t.Errorf("%d and %d days ago: %q", row.check, row.exam, lines)
			continue
		}
		for i, w := range row.want {
			if !strings.HasPrefix(lines[i], w) {
				t.Errorf("%d and %d days ago: %q, want %q", row.check, row.exam, lines[i], w)
			}
		}
	}
}
