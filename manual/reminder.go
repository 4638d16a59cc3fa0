package manual

import (
	"fmt"
	"net/http"
	"time"

	ics "github.com/arran4/golang-ical"

	"weighbeam/home"
)

// done is when each thing that comes round was last done for a cat; zero for never.
type done struct{ weighed, checked, examined time.Time }

// round is one thing that comes round.
type round struct {
	kind string // names it in the catalogue and in the feed
	last time.Time
	days func(home.Rhythm) int
}

// in is d by the clock on the wall: what was done shortly before midnight was done
// on that day.
func (d done) in(zone *time.Location) done {
	for _, t := range []*time.Time{&d.weighed, &d.checked, &d.examined} {
		if !t.IsZero() {
			*t = t.In(zone)
		}
	}
	return d
}

func (d done) rounds() []round {
	return []round{
		{"weigh", d.weighed, func(r home.Rhythm) int { return r.Weigh }},
		{"check", d.checked, func(r home.Rhythm) int { return r.Check }},
		{"exam", d.examined, func(r home.Rhythm) int { return r.Exam }},
	}
}

// due is one series of a feed: from a day on, every so many days, until the stage
// of life ends and the next series takes over.
type due struct {
	kind  string
	stage home.Stage
	from  time.Time // midnight UTC of a day
	until time.Time // the last day; zero for no end
	days  int
}

// comesRound lists what comes round for a cat from today on, through its stages.
func comesRound(c home.Cat, d done, today time.Time) []due {
	var all []due
	for _, r := range d.rounds() {
		from := today
		for at := today; ; {
			stage := home.StageOf(c.Born, at)
			days, end := r.days(stage.Rhythm()), home.StageEnds(c.Born, at)
			if at.Equal(today) && !r.last.IsZero() {
				from = later(dayOf(r.last).AddDate(0, 0, days), today)
			}
			one := due{kind: r.kind, stage: stage, from: from, days: days}
			if end.IsZero() {
				all = append(all, one)
				break
			}
			if one.until = end.AddDate(0, 0, -1); !from.After(one.until) {
				all = append(all, one)
				for !from.After(one.until) { // the next stage goes on where this one stops
					from = from.AddDate(0, 0, days)
				}
			}
			at = end
			if next := home.StageOf(c.Born, at).Rhythm(); r.days(next) < days {
				from = later(end, today)
			}
		}
	}
	return all
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// dayOf is the day that t falls on, as midnight UTC.
func dayOf(t time.Time) time.Time {
	y, mo, d := t.Date()
	return time.Date(y, mo, d, 0, 0, 0, 0, time.UTC)
}

// reminders is what comes round for a cat as an iCalendar feed (RFC 5545): whole
// days, moved on by what was done, so that a calendar that asks again is up to date.
func (m *room) reminders(w http.ResponseWriter, r *http.Request) {
	c, err := m.cat(r)
	if err != nil {
		m.fail(w, r, err)
		return
	}
	now := m.opts.Now()
	d := done{weighed: m.weighed(c.ID)}
	for _, check := range m.past(r.Context(), c.ID) {
		d.checked = later(d.checked, check.Time)
		for _, one := range check.Readings {
			if one.Quantity == home.Weight {
				d.weighed = later(d.weighed, check.Time)
			}
		}
	}
	care, err := m.store.Care(r.Context(), c.ID, time.Time{}, time.Time{})
	if err != nil {
		m.fail(w, r, err)
		return
	}
	for _, e := range care {
		if e.Kind == home.VetVisit && !e.From.After(now) {
			d.examined = later(d.examined, e.From)
		}
	}
	guarded(w.Header(), "text/calendar; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	w.Header().Set("Content-Disposition", `inline; filename="`+c.ID+`.ics"`)
	_, _ = w.Write([]byte(m.feed(c, comesRound(c, d.in(m.opts.Zone), dayOf(now.In(m.opts.Zone))), now))) // a reader that left is no fault of the program
}

// weighed is when a scale last met the cat.
func (m *room) weighed(cat string) time.Time {
	if m.opts.Weighed == nil {
		return time.Time{}
	}
	return m.opts.Weighed(cat)
}

func (m *room) feed(c home.Cat, all []due, now time.Time) string {
	cal := ics.NewCalendarFor("Weighbeam")
	cal.SetProductId("-//Weighbeam//Reminders//EN")
	cal.SetName(m.words.say("remind.title", "cat", c.Name))
	for _, d := range all {
		e := cal.AddEvent(fmt.Sprintf("%s-%s-%s@weighbeam", d.kind, c.ID, d.stage))
		e.SetDtStampTime(now)
		e.SetAllDayStartAt(d.from)
		e.SetAllDayEndAt(d.from.AddDate(0, 0, 1))
		e.SetSummary(m.words.say("remind."+d.kind, "cat", c.Name))
		e.SetDescription(m.words.say("remind."+d.kind+"-why", "n", d.days) + " " + home.Caution)
		e.SetProperty(ics.ComponentPropertyTransp, "TRANSPARENT") // it makes nobody busy
		rule := fmt.Sprintf("FREQ=DAILY;INTERVAL=%d", d.days)
		if !d.until.IsZero() {
			rule += ";UNTIL=" + d.until.Format("20060102")
		}
		e.AddRrule(rule)
	}
	return cal.Serialize(ics.WithNewLineWindows) // RFC 5545, 3.1: lines end in CRLF
}
