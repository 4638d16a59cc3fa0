package manual

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-ical"

	"weighbeam/home"
)

func on(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

// What comes round changes with the stage of life, without a gap or a doubling.
func TestComesRound_ThroughTheStages(t *testing.T) {
	today := on(2026, 5, 4)
	for _, c := range []struct {
		name string
		born time.Time
		done done
		want string
	}{
		{"a senior, never seen to", on(2010, 1, 1), done{}, "weigh senior 05-04 7 -; check senior 05-04 14 -; exam senior 05-04 182 -"},
		// What was done moves the next one on; what is overdue is due today.
		{"a senior", on(2010, 1, 1), done{weighed: on(2026, 5, 3), checked: on(2026, 1, 1), examined: on(2026, 4, 1)},
			"weigh senior 05-10 7 -; check senior 05-04 14 -; exam senior 09-30 182 -"},
		// A cat that turns ten: every week from the day on which it is a senior.
		{"nearly ten", on(2016, 5, 14), done{weighed: on(2026, 5, 1), checked: on(2026, 4, 20), examined: on(2025, 8, 1)},
			"weigh senior 05-15 7 -; check senior 05-15 14 -; exam senior 05-15 182 -"},
		{"of unknown age", time.Time{}, done{}, "weigh  05-04 28 -; check  05-04 28 -; exam  05-04 365 -"},
	} {
		var got []string
		for _, d := range comesRound(home.Cat{ID: "fig", Born: c.born}, c.done, today) {
			until := "-"
			if !d.until.IsZero() {
				until = d.until.Format(time.DateOnly)
			}
			got = append(got, fmt.Sprintf("%s %s %s %d %s", d.kind, d.stage, d.from.Format("01-02"), d.days, until))
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, s, c.want)
		}
	}
}

// Another library than the one that wrote it reads the feed, and finds each day
// once: RFC 5545.
func TestReminders_ParsedBack_IsOneSeriesThroughLife(t *testing.T) {
	m := lived()
	m.home.Cats[0].Born, m.home.Cats[0].Name = on(2025, 9, 1), "Fig, the; \\ long-named one of the house at the very end of the lane"
	m.checks = []home.HomeCheck{{ID: "c", Cat: "fig", Time: noon.AddDate(0, 0, -2), Readings: []home.Reading{{Quantity: home.Weight, Value: 3}}}}
	m.care = []home.Care{{Cat: "fig", Kind: home.VetVisit, From: noon.AddDate(0, 0, -100)}}
	w := get(t, newRoom(m), "/check/fig/reminders.ics")
	says(t, w, 200)
	if kind := w.Header().Get("Content-Type"); kind != "text/calendar; charset=utf-8" {
		t.Errorf("it is %q", kind)
	}
	for _, line := range strings.Split(strings.TrimSuffix(w.Body.String(), "\r\n"), "\r\n") {
		if len(line) > 75 || strings.Contains(line, "\n") { // 3.1: lines of at most 75 octets, ended by CRLF
			t.Errorf("a line of %d octets: %q", len(line), line)
		}
	}
	cal, err := ical.NewDecoder(strings.NewReader(w.Body.String())).Decode()
	if err != nil {
		t.Fatal(err)
	}
	uids := map[string]bool{}
	var weighings []time.Time
	for _, e := range cal.Events() {
		uid, _ := e.Props.Text(ical.PropUID)
		if uids[uid] {
			t.Errorf("%s is there twice", uid)
		}
		uids[uid] = true
		if !strings.HasPrefix(uid, "weigh") {
			continue
		}
		if s, err := e.Props.Text(ical.PropSummary); err != nil || s != en("remind.weigh", "cat", m.home.Cats[0].Name) {
			t.Errorf("summary %q, %v", s, err)
		}
		set, err := e.RecurrenceSet(time.UTC)
		if err != nil || set == nil {
			t.Fatalf("%s: %v", uid, err)
		}
		weighings = append(weighings, set.Between(noon.AddDate(0, 0, -9), on(2036, 12, 1), true)...)
	}
	if len(weighings) < 190 || weighings[0] != on(2026, 5, 9) {
		t.Fatalf("%d weighings: %v", len(weighings), weighings)
	}
	for i, at := range weighings[1:] {
		days := int(at.Sub(weighings[i]).Hours() / 24)
		want := home.StageOf(m.home.Cats[0].Born, weighings[i]).Rhythm().Weigh
		if days < 1 || days > want {
			t.Errorf("from %v to %v are %d days, want at most %d", weighings[i], at, days, want)
		}
	}
}

func TestReminders_NoSuchCat_SaysSo(t *testing.T) {
	says(t, get(t, newRoom(lived()), "/check/ghost/reminders.ics"), 404)
}

// A check shortly after midnight in the house's own zone counts from that day, not
// from the one that it still was in UTC.
func TestReminders_AfterMidnight_CountsTheHousesDay(t *testing.T) {
	m := lived()
	m.home.Cats[0].Born = time.Time{} // every 28 days
	m.checks = []home.HomeCheck{{ID: "c", Cat: "fig", Time: time.Date(2026, 5, 1, 23, 30, 0, 0, time.UTC), Note: "at half past one"}}
	zone := time.FixedZone("UTC+2", 2*60*60)
	h := New(m, Options{Now: func() time.Time { return time.Date(2026, 5, 3, 10, 0, 0, 0, time.UTC) }, Zone: zone})
	w := get(t, h, "/check/fig/reminders.ics")
	if want := "UID:check-fig-@weighbeam"; !strings.Contains(w.Body.String(), want) {
		t.Fatalf("no %s in\n%s", want, w.Body)
	}
	_, event, _ := strings.Cut(w.Body.String(), "UID:check-fig-@weighbeam")
	if !strings.Contains(strings.SplitN(event, "END:VEVENT", 2)[0], "DTSTART;VALUE=DATE:20260530") { // 2 May and 28 days
		t.Errorf("the next check is elsewhere:%s", event)
	}
}
