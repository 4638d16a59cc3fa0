package dashboards

import (
	"testing"

	"weighbeam/home"
)

// The small picture of a cat is of what needs somebody.
func TestThumbnailOf(t *testing.T) {
	of := func(signs ...home.Sign) (open []findingLine) {
		for _, s := range signs {
			open = append(open, findingLine{Sign: s})
		}
		return open
	}
	for _, row := range []struct {
		name             string
		open             []findingLine
		weighed, counted bool
		want             string
	}{
		{"nothing found", nil, true, true, "weight"},
		{"never weighed", nil, false, true, "breaths"},
		{"nothing known", nil, false, false, ""},
		{"breaths", of(home.BreathingRising), true, true, "breaths"},
		{"the most urgent comes first", of(home.BreathingHigh, home.WeightFalling), true, true, "breaths"},
		{"behind what no picture shows", of(home.RedFlagSeen, home.WeightLow, home.BreathingHigh), true, true, "weight"},
		{"only what no picture shows", of(home.NotSeen), false, true, "breaths"},
	} {
		if got := thumbnailOf(row.open, row.weighed, row.counted); got.Name != row.want || (got.Words == "") != (row.want == "") {
			t.Errorf("%s: got %+v, want %q", row.name, got, row.want)
		}
	}
}
