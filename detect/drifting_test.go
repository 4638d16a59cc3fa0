package detect

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// scales is a house whose cats use all its scales every day. A cat wanders by 0.15 %
// a day and a weighing is off by 0.8 %, as in cats of this program's simulator; both
// are larger than published scatter of one cat on one clinic scale.
type scales struct {
	cats, scales, days int
	seldom             bool                         // each cat is on each scale on two days in three
	off                func(scale, day int) float64 // percent that a scale is off
	gain               func(cat, day int) float64   // percent that a cat has changed
}

func (s scales) weighings(seed uint64) []home.Weighing {
	r := rand.New(rand.NewPCG(seed, 1))
	var all []home.Weighing
	wander := make([]float64, s.cats)
	for day := range s.days {
		for cat := range s.cats {
			wander[cat] += 0.15 * r.NormFloat64()
			for scale := range s.scales {
				times := 1 + r.IntN(2)
				if s.seldom {
					times = r.IntN(3)
				}
				for range times {
					pct := wander[cat] + 0.8*r.NormFloat64()
					if s.off != nil {
						pct += s.off(scale, day)
					}
					if s.gain != nil {
						pct += s.gain(cat, day)
					}
					all = append(all, home.Weighing{Cat: fmt.Sprint("cat-", cat), Source: fmt.Sprint("box-", scale), Confidence: 0.99,
						Time: start.AddDate(0, 0, day).Add(time.Duration(r.IntN(86400)) * time.Second), Kg: (4 + float64(cat)) * (1 + pct/100)})
				}
			}
		}
	}
	return all
}

// looked is what turned of the drift of one scale, looked at each midnight.
func looked(scale string, all []home.Weighing, days int) []home.Transition {
	d := NewDrift(scale)
	on := map[int]map[string][]home.Weighing{}
	for _, m := range all {
		day := dayOf(m.Time)
		if on[day] == nil {
			on[day] = map[string][]home.Weighing{}
		}
		on[day][m.Cat] = append(on[day][m.Cat], m)
	}
	var weighed Weighed
	var turned []home.Transition
	for day := range days + 1 {
		now := start.AddDate(0, 0, day)
		for cat, those := range on[dayOf(now)-1] {
			weighed.Set(cat, dayOf(now)-1, those)
		}
		turned = append(turned, d.Look(now, &weighed)...)
	}
	return turned
}

var start = time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)

func TestDrift_Look(t *testing.T) {
	slow := func(scale, day int) float64 {
		if scale == 0 && day > 60 {
			return min(2.5, 0.05*float64(day-60))
		}
		return 0
	}
	step := func(to float64) func(int, int) float64 {
		return func(scale, day int) float64 {
			if scale == 0 && day >= 60 {
				return to
			}
			return 0
		}
	}
	for _, row := range []struct {
		name   string
		house  scales
		within int // days after day 60 in which it is found; 0 for never
		closed bool
		says   string
	}{
		// Against another scale a slow drift is found when it is over a percent.
		{"slow, beside another", scales{cats: 2, scales: 2, days: 120, off: slow}, 45, false, "more than before, against"},
		{"a step, beside another, one cat", scales{cats: 1, scales: 2, days: 120, off: step(-2)}, 20, false, "less than before"},
		// Alone, all cats at once is a scale, and one cat is a cat.
		{"a step, alone", scales{cats: 3, scales: 1, days: 70, off: step(3)}, 8, false, "every cat at once"},
		{"one cat fattens, alone", scales{cats: 2, scales: 1, days: 120, gain: func(cat, day int) float64 { return float64(cat) * 0.05 * float64(day) }}, 0, false, ""},
		// What happens to cats is no drift where there are two scales: both show it.
		{"all cats thinner at once, two scales", scales{cats: 2, scales: 2, days: 120, gain: func(_, day int) float64 { return -3 * min(1, float64(day)/60) }}, 0, false, ""},
		{"a slow gain of all, alone", scales{cats: 3, scales: 1, days: 160, gain: func(_, day int) float64 { return 0.03 * float64(day) }}, 0, false, ""},
		{"half a percent", scales{cats: 2, scales: 2, days: 120, off: step(0.5)}, 0, false, ""},
		// It is corrected on day 90, as by a calibration, and that is noticed.
		{"corrected", scales{cats: 2, scales: 2, days: 120, off: func(scale, day int) float64 {
			if scale == 0 && day >= 60 && day < 90 {
				return 2
			}
			return 0
		}}, 20, true, ""},
	} {
		for seed := range uint64(2) {
			turned := looked("box-0", row.house.weighings(seed+5), row.house.days)
			if row.within == 0 {
				if len(turned) > 0 {
					t.Errorf("%s: %+v", row.name, turned[0].Finding)
				}
				continue
			}
			if len(turned) == 0 {
				t.Errorf("%s: nothing found", row.name)
				continue
			}
			f, last := turned[0].Finding, turned[len(turned)-1]
			day := int(f.Raised.Sub(start).Hours() / 24)
			if day < 60 || day > 60+row.within || f.Source != "box-0" || f.Cat != "" || !strings.Contains(f.Text, row.says) {
				t.Errorf("%s: found on day %d: %+v", row.name, day, f)
			}
			if closed := last.Turn == home.Closed; closed != row.closed {
				t.Errorf("%s: closed %v at the end", row.name, closed)
			}
		}
	}
}

// Scales that do not drift are not found to: in 20 scale-years at most one is.
func TestDrift_Look_NoFalseFindings(t *testing.T) {
	found := 0
	for seed := range uint64(10) {
		all := scales{cats: 3, scales: 2, days: 365}.weighings(100 + seed)
		for _, scale := range []string{"box-0", "box-1"} {
			for _, turn := range looked(scale, all, 365) {
				if turn.Turn == home.Raised {
					found++
				}
			}
		}
	}
	if found > 1 {
		t.Errorf("%d findings in 20 scale-years", found)
	}
}

// A young house has few days to tell the scatter from.
func TestDrift_Look_YoungHouse(t *testing.T) {
	found := 0
	for seed := range uint64(1000) {
		all := scales{cats: 2, scales: 2, days: 45, seldom: true}.weighings(500 + seed)
		found += len(looked("box-0", all, 45))
	}
	if found > 6 {
		t.Errorf("%d findings in 1000 houses", found)
	}
}

// What is told again after a start stands, and a scale that leaves takes it along.
func TestDrift_Stand_AndLeave(t *testing.T) {
	d := NewDrift("box-0")
	d.Stand(home.Finding{Source: "box-0", Sign: home.ScaleDrifting, Raised: start})
	if open := d.Open(); len(open) != 1 || open[0].Source != "box-0" {
		t.Fatalf("open: %+v", open)
	}
	turned := d.Leave(start.AddDate(0, 1, 0))
	if len(turned) != 1 || turned[0].Turn != home.Closed || turned[0].Finding.Source != "box-0" || len(d.Open()) != 0 {
		t.Errorf("turned: %+v", turned)
	}
}
