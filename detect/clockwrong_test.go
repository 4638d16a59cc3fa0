package detect

import (
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

var clockStart = time.Date(2025, 3, 29, 20, 0, 0, 0, time.UTC) // a change to summer time lies ahead

// dated are hours in a row in which the least lag was as given.
func dated(from time.Time, behind ...time.Duration) (hours []home.ClockHour) {
	for i, b := range behind {
		hours = append(hours, home.ClockHour{Hour: from.Add(time.Duration(i) * time.Hour), Behind: b, Dated: true})
	}
	return hours
}

// clocked steps a watch through hours as they end and returns every turn.
func clocked(c *ClockWatch, hours []home.ClockHour) (turned []home.Transition) {
	for _, h := range hours {
		c.Add([]home.ClockHour{h})
		turned = append(turned, c.Look(h.Hour.Add(time.Hour))...)
	}
	return turned
}

func TestClockWatch_Look(t *testing.T) {
	const s, m, h = time.Second, time.Minute, time.Hour
	refused := func(n int) (hours []home.ClockHour) {
		for i := range n {
			hours = append(hours, home.ClockHour{Hour: clockStart.Add(time.Duration(i) * h), Refused: true})
		}
		return hours
	}
	for _, row := range []struct {
		name  string
		hours []home.ClockHour
		want  string // part of the text of the finding; "" for none
	}{
		// A network takes seconds, and two hours are not enough to be sure.
		{"right", dated(clockStart, s, 20*s, 3*s, s, 40*s), ""},
		{"off for two hours", dated(clockStart, 10*m, 10*m), ""},
		{"behind", dated(clockStart, 10*m, 10*m+20*s, 10*m), "10 minutes behind"},
		{"ahead", dated(clockStart, -5*m, -5*m, -5*m), "ahead of"},
		// An hour off, also across a change of civil time, is local time sent as UTC.
		{"local time", dated(clockStart, -h, -h, -h, -h, -h), "local time"},
		{"half an hour of local time", dated(clockStart, -330*m, -330*m-10*s, -330*m), "local time"},
		// A device that sends late what it kept is behind unevenly.
		{"late uploads", dated(clockStart, 3*h, 10*m, 7*h, 2*h, 25*m), ""},
		{"never set", refused(3), "never set"},
		{"one reading at boot", append(refused(1), dated(clockStart.Add(h), s, s, s)...), ""},
		{"no clock at all", []home.ClockHour{{Hour: clockStart}, {Hour: clockStart.Add(h)}, {Hour: clockStart.Add(2 * h)}}, ""},
	} {
		turned := clocked(NewClockWatch("box-1"), row.hours)
		switch {
		case row.want == "" && len(turned) > 0:
			t.Errorf("%s: found %q", row.name, turned[0].Finding.Text)
		case row.want != "" && (len(turned) != 1 || turned[0].Turn != home.Raised || !strings.Contains(turned[0].Finding.Text, row.want)):
			t.Errorf("%s: %+v, want %q", row.name, turned, row.want)
		case row.want != "":
			f := turned[0].Finding
			if f.Source != "box-1" || f.Cat != "" || f.Sign != home.ClockWrong || !f.Raised.Equal(clockStart.Add(3*h)) || !f.Onset.Equal(clockStart) {
				t.Errorf("%s: %+v", row.name, f)
			}
		}
	}
}

// A clock that is set right is told once; silence in between changes nothing.
func TestClockWatch_Look_Cleared(t *testing.T) {
	c := NewClockWatch("box-1")
	turned := clocked(c, dated(clockStart, time.Hour, time.Hour, time.Hour, time.Hour))
	for at := clockStart.Add(5 * time.Hour); at.Before(clockStart.Add(60 * time.Hour)); at = at.Add(time.Hour) {
		turned = append(turned, c.Look(at)...)
	}
	turned = append(turned, clocked(c, dated(clockStart.Add(60*time.Hour), time.Second, time.Second))...)
	if len(turned) != 2 || turned[0].Turn != home.Raised || turned[1].Turn != home.Closed || turned[1].Finding.Source != "box-1" {
		t.Errorf("%+v", turned)
	}
}

// Of an hour that comes in parts the least lag counts: what was sent late is no news.
func TestClockWatch_Add_Merges(t *testing.T) {
	c := NewClockWatch("box-1")
	for i := range 4 {
		hour := clockStart.Add(time.Duration(i) * time.Hour)
		c.Add(dated(hour, 30*time.Minute))
		c.Add(dated(hour, time.Second))
		c.Add([]home.ClockHour{{Hour: hour}})
		if turned := c.Look(hour.Add(time.Hour)); len(turned) > 0 {
			t.Errorf("%+v", turned)
		}
	}
}

// What was told before a start stands, and a scale that leaves closes it.
func TestClockWatch_Stand(t *testing.T) {
	c := NewClockWatch("box-1")
	c.Stand(home.Finding{Source: "box-1", Sign: home.ClockWrong, Raised: clockStart})
	if turned := clocked(c, dated(clockStart, time.Hour, time.Hour, time.Hour)); len(turned) != 0 && turned[0].Turn == home.Raised {
		t.Errorf("told twice: %+v", turned)
	}
	if turned := c.Leave(clockStart.Add(time.Hour)); len(turned) != 1 || turned[0].Turn != home.Closed {
		t.Errorf("%+v", turned)
	}
}
