package detect

import (
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

func at(u home.Urgency, change float64) verdict {
	return foundAs(home.Finding{Urgency: u, ChangePct: change, After: 100 + change})
}

// TestIncident_Apply steps an incident through verdicts, one a day.
func TestIncident_Apply(t *testing.T) {
	gone := clearAs("gone")
	for _, c := range []struct {
		name     string
		verdicts []verdict
		want     string // turns by day, "-" for none
	}{
		// proves that nothing known and nothing found open nothing
		{"quiet", []verdict{{}, gone, {}}, "- - -"},
		// proves that the first find raises and its repeat says nothing
		{"raised once", []verdict{at(home.Book, -2), at(home.Book, -2), at(home.Book, -2)}, "raised - -"},
		// proves that a gap keeps the last state and a clear closes once
		{"gap", []verdict{at(home.Book, -2), {}, {}, gone, gone}, "raised - - closed -"},
		// proves that urgency up and down are told at once
		{"urgency", []verdict{at(home.Book, -2), at(home.Today, -2), at(home.Now, -2), at(home.Mention, -2)}, "raised worsened worsened eased"},
		// proves that figures that moved wait for a quiet week
		{"figures", []verdict{at(home.Book, -2), at(home.Book, -5), {}, {}, {}, {}, {}, at(home.Book, -5), at(home.Book, -9)}, "raised - - - - - - updated -"},
		// proves that after closing the same may be found again, as a new finding
		{"again", []verdict{at(home.Book, -2), gone, at(home.Book, -2)}, "raised closed raised"},
	} {
		t.Run(c.name, func(t *testing.T) {
			i := incident{cat: "cat", sign: home.WeightFalling}
			var turns []string
			for day, v := range c.verdicts {
				turned := i.apply(nil, v, epoch.AddDate(0, 0, day))
				if len(turned) == 0 {
					turns = append(turns, "-")
					continue
				}
				tr := turned[0]
				turns = append(turns, string(tr.Turn))
				if tr.Finding.Cat != "cat" || tr.Finding.Sign != home.WeightFalling || !tr.Finding.Updated.Equal(tr.At) {
					t.Errorf("day %d: %+v", day, tr.Finding)
				}
			}
			if got := strings.Join(turns, " "); got != c.want {
				t.Errorf("turns %q, want %q", got, c.want)
			}
		})
	}
}

// TestIncident_Apply_KeepsIdentity proves that a finding keeps its ID while its
// figures and urgency move, and gets its end and the reason when it closes.
func TestIncident_Apply_KeepsIdentity(t *testing.T) {
	i := incident{cat: "cat", sign: home.WeightFalling}
	turned := i.apply(nil, at(home.Book, -2), epoch)
	turned = i.apply(turned, at(home.Today, -6), epoch.Add(time.Hour))
	turned = i.apply(turned, clearAs("It came back."), epoch.Add(2*time.Hour))
	raised, worse, closed := turned[0], turned[1], turned[2]
	if raised.Finding.ID() != worse.Finding.ID() || worse.Finding.ID() != closed.Finding.ID() {
		t.Errorf("ids %s, %s, %s", raised.Finding.ID(), worse.Finding.ID(), closed.Finding.ID())
	}
	f := closed.Finding
	if f.Open() || f.Reason != "It came back." || f.ChangePct != -6 || f.Urgency != home.Today {
		t.Errorf("closed as %+v", f)
	}
}
