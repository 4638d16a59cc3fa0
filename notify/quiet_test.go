package notify

import (
	"testing"
	"time"
	_ "time/tzdata" // the test must not depend on the machine's copy

	"pgregory.net/rapid"
)

func instant(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// Changes of the clock: EU 2026 on 29 March at 01:00 UTC and 25 October at 01:00
// UTC (Directive 2000/84/EC); Lord Howe Island shifts by half an hour (tz database).
func TestQuiet_Until(t *testing.T) {
	tests := []struct {
		name, zone string
		from, to   string
		at, want   string // want "": not quiet
	}{
		// Over midnight, before and after it.
		{"evening", "Europe/Berlin", "22:00", "07:00", "2026-07-01T21:30:00Z", "2026-07-02T05:00:00Z"},
		{"small hours", "Europe/Berlin", "22:00", "07:00", "2026-07-02T01:00:00Z", "2026-07-02T05:00:00Z"},
		// The first instant is quiet, the last is not.
		{"first", "Europe/Berlin", "22:00", "07:00", "2026-07-01T20:00:00Z", "2026-07-02T05:00:00Z"},
		{"just before", "Europe/Berlin", "22:00", "07:00", "2026-07-01T19:59:59Z", ""},
		{"end", "Europe/Berlin", "22:00", "07:00", "2026-07-02T05:00:00Z", ""},
		// Within a day.
		{"siesta", "UTC", "13:00", "15:00", "2026-07-02T14:00:00Z", "2026-07-02T15:00:00Z"},
		{"no siesta", "UTC", "13:00", "15:00", "2026-07-02T16:00:00Z", ""},
		// From equal to To is no quiet at all, never a whole day.
		{"none", "UTC", "13:00", "13:00", "2026-07-02T13:00:00Z", ""},
		// The night of the spring change is an hour shorter, but ends at seven.
		{"spring", "Europe/Berlin", "22:00", "07:00", "2026-03-28T21:30:00Z", "2026-03-29T05:00:00Z"},
		// The night of the autumn change is an hour longer, and ends at seven.
		{"autumn", "Europe/Berlin", "22:00", "07:00", "2026-10-24T20:30:00Z", "2026-10-25T06:00:00Z"},
		// An end that the spring change skips is the first instant after the gap.
		{"end in gap", "Europe/Berlin", "22:00", "02:30", "2026-03-29T00:10:00Z", "2026-03-29T01:00:00Z"},
		// A beginning that is skipped likewise.
		{"start in gap", "Europe/Berlin", "02:30", "05:00", "2026-03-29T01:00:00Z", "2026-03-29T03:00:00Z"},
		// An end that comes twice is the first of the two: early, not late.
		{"end twice", "Europe/Berlin", "22:00", "02:30", "2026-10-25T00:10:00Z", "2026-10-25T00:30:00Z"},
		{"after the first", "Europe/Berlin", "22:00", "02:30", "2026-10-25T00:40:00Z", ""},
		// Half an hour: Lord Howe goes back from 02:00 (+11) to 01:30 (+10:30) on 5 April 2026.
		{"half hour", "Australia/Lord_Howe", "22:00", "01:45", "2026-04-04T14:40:00Z", "2026-04-04T14:45:00Z"},
		// Far west and far east of the date line.
		{"samoa", "Pacific/Apia", "22:00", "07:00", "2026-07-01T10:00:00Z", "2026-07-01T18:00:00Z"},
		{"hawaii", "Pacific/Honolulu", "22:00", "07:00", "2026-07-01T10:00:00Z", "2026-07-01T17:00:00Z"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			from, err1 := ParseClock(tt.from)
			to, err2 := ParseClock(tt.to)
			if err1 != nil || err2 != nil {
				t.Fatal(err1, err2)
			}
			got, quiet := Quiet{from, to, zone(t, tt.zone)}.Until(instant(t, tt.at))
			if quiet != (tt.want != "") || quiet && !got.Equal(instant(t, tt.want)) {
				t.Errorf("quiet %v until %s, want %q", quiet, got.UTC().Format(time.RFC3339), tt.want)
			}
		})
	}
}

// Whatever the zone and hours: an end lies ahead, at most 25 hours and a half,
// and at that end it is no longer quiet.
func TestQuiet_Until_Ends(t *testing.T) {
	zones := []*time.Location{zone(t, "Europe/Berlin"), zone(t, "America/New_York"), zone(t, "Australia/Lord_Howe"), zone(t, "Africa/Casablanca")}
	rapid.Check(t, func(t *rapid.T) {
		minute := rapid.IntRange(0, 24*60-1)
		q := Quiet{Clock(minute.Draw(t, "from")), Clock(minute.Draw(t, "to")), rapid.SampledFrom(zones).Draw(t, "zone")}
		at := t0.Add(time.Duration(rapid.Int64Range(0, int64(730*day)).Draw(t, "at")))
		end, quiet := q.Until(at)
		if !quiet {
			return
		}
		if !end.After(at) || end.Sub(at) > 25*time.Hour+30*time.Minute {
			t.Fatalf("at %s quiet until %s", at, end)
		}
		if again, still := q.Until(end); still {
			t.Fatalf("at the end %s still quiet until %s", end, again)
		}
	})
}

func TestDigest_Next(t *testing.T) {
	berlin := zone(t, "Europe/Berlin")
	tests := []struct{ name, clock, at, want string }{
		// Later today, and tomorrow.
		{"today", "08:00", "2026-07-01T05:00:00Z", "2026-07-01T06:00:00Z"},
		{"tomorrow", "08:00", "2026-07-01T06:00:00Z", "2026-07-02T06:00:00Z"},
		// The day of a change.
		{"spring", "08:00", "2026-03-28T20:00:00Z", "2026-03-29T06:00:00Z"},
		{"autumn", "08:00", "2026-10-24T20:00:00Z", "2026-10-25T07:00:00Z"},
		// A skipped hour still has its digest, a doubled one has one.
		{"skipped", "02:30", "2026-03-29T00:00:00Z", "2026-03-29T01:00:00Z"},
		{"doubled", "02:30", "2026-10-25T00:30:00Z", "2026-10-26T01:30:00Z"},
	}
	for _, tt := range tests {
		at, err := ParseClock(tt.clock)
		if err != nil {
			t.Fatal(err)
		}
		if got := (Digest{true, at, berlin}).Next(instant(t, tt.at)); !got.Equal(instant(t, tt.want)) {
			t.Errorf("%s: %s, want %s", tt.name, got.UTC().Format(time.RFC3339), tt.want)
		}
	}
}

func FuzzParseClock(f *testing.F) {
	for _, s := range []string{"00:00", "23:59", "24:00", "7:00", "", "12:60", "１２:00", "12:00:00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseClock(s)
		if err != nil {
			return
		}
		if again, err := ParseClock(c.String()); err != nil || again != c {
			t.Errorf("%q is %s, which is %d, %v", s, c, again, err)
		}
	})
}
