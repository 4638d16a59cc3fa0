package store

import (
	"fmt"
	"testing"
	"time"

	"weighbeam/home"
)

// arrival is what a device without a clock sent: after how long it came, its number,
// its value, and what else is said of it.
type arrival struct {
	after time.Duration
	seq   int64
	kg    float64
	how   string // "resent", "2s behind", "" for nothing
}

func (a arrival) reading() home.Reading {
	r := numbered(t0.Add(a.after), a.seq, a.kg)
	switch a.how {
	case "resent":
		r.Resent = true
	case "2s behind":
		r.Time = r.Arrived.Add(-2 * time.Second)
	}
	return r
}

// A device that has no clock but counts: what of it is the same reading once more.
func TestDB_Append_Numbered(t *testing.T) {
	const day = 24 * time.Hour
	for _, row := range []struct {
		name string
		sent []arrival
		want string // of each: s for stored, d for duplicate
	}{
		// A device that missed its answer sends to a broker outside, which does not say so.
		{"again within a moment", []arrival{{0, 7, 4, ""}, {time.Minute, 7, 4, ""}}, "sd"},
		{"some that were on the way", []arrival{{0, 7, 4, ""}, {1e9, 8, 4, ""}, {2e9, 9, 4, ""}, {60e9, 7, 4, ""}, {61e9, 8, 4, ""}, {62e9, 9, 4, ""}, {63e9, 10, 4, ""}}, "sssddds"},
		{"another value", []arrival{{0, 7, 4, ""}, {time.Second, 7, 4.01, ""}}, "ss"},
		{"later, unsaid", []arrival{{0, 7, 4, ""}, {5 * time.Minute, 7, 4, ""}}, "ss"},
		// A counter that begins anew when its device does.
		{"begun anew", []arrival{{0, 1, 0, ""}, {1e9, 2, 4.2, ""}, {2e9, 3, 4.2, ""}, {time.Hour, 1, 0, ""}, {time.Hour + 1e9, 2, 4.2, ""}, {time.Hour + 2e9, 3, 4.2, ""}}, "ssssss"},
		// Within a moment the first number is in doubt; what differs, and all behind it, is not.
		{"begun anew at once", []arrival{{0, 1, 0, ""}, {1e9, 2, 4.2, ""}, {2e9, 3, 4.2, ""}, {30e9, 1, 0.1, ""}, {31e9, 2, 4.2, ""}, {32e9, 3, 4.2, ""}}, "ssssss"},
		// What a broker kept while we were away, it says to have sent before where it had.
		{"resent days later", []arrival{{0, 7, 4, ""}, {0 + 1e9, 8, 4, ""}, {3 * day, 7, 4, "resent"}, {3*day + 1e9, 8, 4, "resent"}, {3*day + 2e9, 9, 4, "resent"}, {3*day + 3e9, 10, 4, ""}}, "ssddss"},
		{"resent twice", []arrival{{0, 7, 4, ""}, {day, 7, 4, "resent"}, {2 * day, 7, 4, "resent"}}, "sdd"},
		// It sent it before, but that was never stored; the number is of an earlier start.
		{"resent, begun anew", []arrival{{0, 1, 0, ""}, {1e9, 2, 4.2, ""}, {2e9, 3, 4.2, ""}, {day, 1, 0.1, ""}, {day + 1e9, 2, 4.2, "resent"}}, "sssss"},
		{"resent, after weeks", []arrival{{0, 7, 4, ""}, {8 * day, 7, 4, "resent"}}, "ss"},
		// A broker hands out what is new before what it kept, and, killed again, the new once more.
		{"resent behind what waited", []arrival{{0, 1, 4, ""}, {1e9, 2, 4, ""}, {2e9, 6, 4, ""}, {3e9, 7, 4, ""}, {10e9, 3, 4, ""}, {11e9, 4, 4, ""}, {12e9, 5, 4, ""}, {13e9, 6, 4, "resent"}, {14e9, 7, 4, "resent"}, {15e9, 8, 4, ""}}, "sssssssdds"},
		// The same, but a device that does not say so may as well have begun anew with numbers left out.
		{"unsaid behind what waited", []arrival{{0, 1, 4, ""}, {1e9, 2, 4, ""}, {2e9, 6, 4, ""}, {10e9, 3, 4, ""}, {11e9, 6, 4, ""}}, "sssss"},
		// Two of one message, at the times that it says to lie before its arrival.
		{"a message of two", []arrival{{0, 7, 4, "2s behind"}, {0, 7, 4, ""}, {30e9, 7, 4, "2s behind"}, {30e9, 7, 4, ""}}, "ssdd"},
	} {
		t.Run(row.name, func(t *testing.T) {
			db := fresh(t)
			got := ""
			for _, a := range row.sent {
				tally := appended(t, db, home.Batch{Readings: []home.Reading{a.reading()}})
				if tally.Received() != 1 || tally.SetAside != 0 {
					t.Fatalf("%+v", tally)
				}
				got += map[bool]string{true: "s", false: "d"}[tally.Stored == 1]
			}
			if got != row.want {
				t.Errorf("got %s, want %s", got, row.want)
			}
		})
	}
}

// A counter of eight bits comes round within seconds or minutes; readings whose value is
// that of one round before are stored nevertheless.
func TestDB_Append_NumberComesRound(t *testing.T) {
	for _, every := range []time.Duration{100 * time.Millisecond, time.Second} {
		t.Run(fmt.Sprint(every), func(t *testing.T) {
			db := fresh(t)
			const n = 1000
			var b home.Batch
			for i := range int64(n) {
				b.Readings = append(b.Readings, numbered(t0.Add(time.Duration(i)*every), 1+i%255, 4))
			}
			if got := appended(t, db, b); got != (home.Tally{Stored: n}) {
				t.Errorf("%+v", got)
			}
		})
	}
}

// Who looks at what was set aside reads what stands against it.
func TestDB_Append_SaysWhatStands(t *testing.T) {
	db := fresh(t)
	for _, r := range []home.Reading{weight(t0, 1, 4.5), count(t0, "moss", 12)} {
		appended(t, db, home.Batch{Readings: []home.Reading{r}})
		r.Value++
		appended(t, db, home.Batch{Readings: []home.Reading{r}})
	}
	const said = "the same source, time and sequence number already said "
	if got := waiting(t, db); len(got) != 2 || got[0].Reason != said+"4.5" || got[1].Reason != said+"12 in 30 s, asleep" {
		t.Errorf("%+v", got)
	}
}
