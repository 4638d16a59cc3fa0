package dashboards

import (
	"testing"
	"time"

	"weighbeam/home"
)

func TestHabit_AMeanADay(t *testing.T) {
	now := time.Date(2026, 3, 28, 18, 0, 0, 0, time.UTC)
	each := func(from, to, perDay int) (all []home.Reading) { // from so many days ago to so many
		for d := from; d > to; d-- {
			for k := range perDay {
				all = append(all, home.Reading{Time: now.AddDate(0, 0, -d).Add(time.Duration(k) * time.Hour), Value: 10})
			}
		}
		return all
	}
	join := func(parts ...[]home.Reading) (all []home.Reading) {
		for _, p := range parts {
			all = append(all, p...)
		}
		return all
	}
	for _, tt := range []struct {
		name string
		all  []home.Reading
		want figure
	}{
		{"nothing measures it", nil, figure{}},
		{"too few days to say", each(2, 0, 3), figure{}},
		{"a new scale: nothing to hold it against", each(5, 0, 3), figure{Known: true, Value: "30 g a day"}},
		{"less than before", join(each(35, 7, 4), each(7, 0, 2)), figure{Known: true, Value: "20 g a day", Interval: "40 g before"}},
		{"nothing any more", each(35, 7, 4), figure{Known: true, Value: "0 g a day", Interval: "40 g before"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := habit(tt.all, now, func(r home.Reading) float64 { return r.Value }, "%.0f g")
			if got != tt.want {
				t.Errorf("%+v, want %+v", got, tt.want)
			}
		})
	}
}
