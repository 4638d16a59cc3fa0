package ingest

import (
	"math/rand/v2"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// A device that reads once a minute for hours is watched; its clock is the house's
// plus what a test says, and its messages take a second or two.
func TestClocks(t *testing.T) {
	start := time.Date(2025, 3, 29, 20, 10, 0, 0, time.UTC) // a change to summer time lies ahead
	rng := rand.New(rand.NewPCG(1, 2))
	tests := []struct {
		name     string
		hours    int
		offset   func(after time.Duration) time.Duration
		together int  // how many readings are kept and sent together
		none     bool // the device sends no time
		want     ClockVerdict
		about    time.Duration // of Offset
	}{
		{"right", 8, func(time.Duration) time.Duration { return 0 }, 1, false, ClockRight, 0},
		{"no clock", 8, nil, 1, true, ClockNone, 0},
		// kept for half an hour and sent together: the newest tells that the clock is right
		{"sent late", 8, func(time.Duration) time.Duration { return 0 }, 30, false, ClockRight, 0},
		// local time sent as UTC, east and west of Greenwich, and where it is off by a quarter
		{"local time, east", 2, func(time.Duration) time.Duration { return 2 * time.Hour }, 1, false, ClockLocal, 2 * time.Hour},
		{"local time, west", 2, func(time.Duration) time.Duration { return -8 * time.Hour }, 1, false, ClockLocal, -8 * time.Hour},
		{"local time, quarter", 2, func(time.Duration) time.Duration { return 5*time.Hour + 45*time.Minute }, 1, false, ClockLocal, 5*time.Hour + 45*time.Minute},
		// local time moves by an hour in the night that clocks change
		{"summer time", 8, func(after time.Duration) time.Duration {
			if after > 5*time.Hour {
				return 2 * time.Hour
			}
			return time.Hour
		}, 1, false, ClockLocal, 2 * time.Hour},
		{"off", 2, func(time.Duration) time.Duration { return 200 * time.Second }, 1, false, ClockOff, 200 * time.Second},
		{"behind", 2, func(time.Duration) time.Duration { return -7 * time.Minute }, 1, false, ClockOff, -7 * time.Minute},
		// two seconds an hour: found out before it is half a minute off
		{"drifts", 12, func(after time.Duration) time.Duration {
			return time.Duration(after.Hours() * 2 * float64(time.Second))
		}, 1, false, ClockDrifts, 24 * time.Second},
		// a poor crystal, 50 ppm: four seconds a day are nobody's trouble
		{"crystal", 20, func(after time.Duration) time.Duration { return after / 20_000 }, 1, false, ClockRight, 3 * time.Second},
		{"never set", 2, func(after time.Duration) time.Duration {
			return time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC).Sub(start)
		}, 1, false, ClockUnset, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a := NewAppender(nil, nil, Options{})
			for m := range tt.hours * 60 {
				at := start.Add(time.Duration(m) * time.Minute)
				arrived := start.Add(time.Duration(m-m%tt.together+tt.together-1) * time.Minute)
				arrived = arrived.Add(time.Second + time.Duration(rng.IntN(1000))*time.Millisecond)
				body := "4.5"
				kind := "number"
				if !tt.none {
					body, kind = `{"w":4.5,"t":"`+at.Add(tt.offset(at.Sub(start))).Format(time.RFC3339)+`"}`, "json:/w;time=/t"
				}
				d, err := payload.ForScale(home.Scale{ID: "box-1", Payload: kind})
				if err != nil {
					t.Fatal(err)
				}
				got, err := d([]byte(body), payload.Arrival{Time: arrived})
				if err != nil {
					t.Fatal(err)
				}
				a.clocks.observe(got)
			}
			got := a.Clocks()
			if len(got) != 1 || got[0].Verdict != tt.want || (got[0].Offset-tt.about).Abs() > 5*time.Second {
				t.Errorf("got %+v, want %s by %s", got, tt.want, tt.about)
			}
		})
	}
}

// A clock that was set right again is right again, at the latest with the next hour.
func TestClocks_Mended(t *testing.T) {
	now := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	c := newClocks()
	see := func(at time.Time, offset time.Duration) {
		c.observe([]home.Reading{{Source: "box-1", Quantity: home.Load, Time: at.Add(offset), Arrived: at, Clock: home.ByDevice}})
	}
	see(now, -time.Hour)
	if got := c.all["box-1"].clock("box-1").Verdict; got != ClockLocal {
		t.Fatalf("%s", got)
	}
	see(now.Add(time.Minute), 0)
	if got := c.all["box-1"].clock("box-1").Verdict; got != ClockRight {
		t.Errorf("%s", got)
	}
	// kept copies and what people type say nothing of a device's clock
	c.observe([]home.Reading{{Source: "hand", Clock: home.ByHand, Arrived: now}, {Source: "box-2", Retained: true, Clock: home.ByDevice, Arrived: now}})
	if len(c.all) != 1 {
		t.Errorf("%d clocks", len(c.all))
	}
}
