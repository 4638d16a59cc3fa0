package watch

import (
	"testing"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// What is open of a cat or a scale that left while the program was down is closed by the
// first round after, in which no time passes: at the point reached. A channel is nobody who left.
func TestHouse_Restore_LeftMeanwhile(t *testing.T) {
	first := house()
	run(first, story(170), nil)
	left := home.Finding{Raised: start, Updated: start, Source: "box-9"}
	var gone []home.Finding
	for _, sign := range []home.Sign{home.ScaleSilent, home.ScaleDrifting, home.ClockWrong} {
		left.Sign = sign
		gone = append(gone, left)
	}
	open := []home.Finding{{Sign: home.ChannelFailing, Source: home.ChannelSource("phone"), Raised: start, Updated: start}}
	for _, f := range first.members["juniper"].told {
		gone = append(gone, f)
	}
	h := NewHouse(detect.Options{})
	h.SetHousehold(home.Household{})
	h.Restore(first.Reached(), append(open, gone...))
	turned := h.Advance(time.Time{})
	if len(turned) != len(gone) || len(gone) < 4 {
		t.Errorf("of %d got\n%s", len(gone), brief(turned))
	}
	for _, x := range turned {
		if x.Turn != home.Closed || !x.At.Equal(first.Reached()) || x.Finding.Reason != home.LeftHousehold {
			t.Errorf("got %s", brief([]home.Transition{x}))
		}
	}
}
