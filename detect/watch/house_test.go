package watch

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/detect"
	"weighbeam/home"
)

var (
	start   = time.Date(2025, 1, 6, 0, 0, 0, 0, time.UTC)
	juniper = home.Cat{ID: "juniper", Name: "Juniper", Born: start.AddDate(-9, 0, 0), WeightKg: 4.6}
)

// story is a cat that is well for 90 days and then loses 1 % a week, weighed
// three times a day, with a breath count now and then.
func story(days int) []detect.Observation {
	var obs []detect.Observation
	for d := range days {
		kg := 4.6
		if d > 90 {
			kg *= 1 - 0.01*float64(d-90)/7
		}
		for i, wobble := range []float64{-0.03, 0.01, 0.02} {
			at := start.AddDate(0, 0, d).Add(time.Duration(7+5*i)*time.Hour + time.Duration(d%50)*time.Minute)
			w := home.Weighing{Cat: "juniper", Time: at, Kg: kg + wobble + 0.02*float64((d*7+i*3)%5-2), SDKg: 0.01, Source: "box-1", Confidence: 1}
			obs = append(obs, detect.Observation{Weighing: &w})
		}
		if d%3 == 0 {
			r := home.Reading{Source: home.Hand, Quantity: home.Breaths, Time: start.AddDate(0, 0, d).Add(21 * time.Hour),
				Value: float64(10 + d%2), Window: 30 * time.Second, State: home.Asleep, Cat: "juniper", Clock: home.ByHand}
			obs = append(obs, detect.Observation{Count: &r})
		}
	}
	return obs
}

// run hands the observations in, in the given cuts, letting time pass to each cut.
func run(h *House, obs []detect.Observation, cuts []int) []home.Transition {
	var all []home.Transition
	from := 0
	for _, cut := range append(cuts, len(obs)) {
		part := obs[from:cut]
		if len(part) == 0 {
			continue
		}
		last := part[len(part)-1].Time()
		h.Sync("juniper", part[0].Time(), last.Add(home.TimeStep), append([]detect.Observation(nil), part...))
		all = append(all, h.Advance(last)...)
		from = cut
	}
	return append(all, h.Advance(obs[len(obs)-1].Time().Add(48*time.Hour))...)
}

func house() *House {
	h := NewHouse(detect.Options{})
	h.SetHousehold(home.Household{Cats: []home.Cat{juniper}})
	return h
}

func TestHouse_Advance_FindsTheLoss(t *testing.T) {
	turned := run(house(), story(170), nil)
	if len(turned) == 0 || turned[0].Turn != home.Raised || turned[0].Finding.Sign != home.WeightFalling {
		t.Fatalf("got %+v", turned)
	}
	if late := turned[0].At.Sub(start.AddDate(0, 0, 90)); late < 0 || late > 45*24*time.Hour {
		t.Errorf("raised %v after the onset", late)
	}
}

// However a history is cut into deliveries, the same turns come at the same times.
func TestHouse_Advance_CutsDoNotMatter(t *testing.T) {
	obs := story(150)
	want := run(house(), obs, nil)
	if len(want) == 0 {
		t.Fatal("the story finds nothing")
	}
	rapid.Check(t, func(rt *rapid.T) {
		cuts := rapid.SliceOfN(rapid.IntRange(0, len(obs)-1), 0, 12).Draw(rt, "cuts")
		var sorted []int
		for i := range obs {
			for _, c := range cuts {
				if c == i {
					sorted = append(sorted, i)
					break
				}
			}
		}
		if got := run(house(), obs, sorted); !reflect.DeepEqual(got, want) {
			rt.Errorf("cut at %v: %d turns, want %d\n%s\n%s", sorted, len(got), len(want), brief(got), brief(want))
		}
	})
}

// Stopping at any moment and starting from what was told changes nothing.
func TestHouse_Restore_ChangesNothing(t *testing.T) {
	obs := story(150)
	want := run(house(), obs, nil)
	for _, cut := range []int{1, 100, 300, 340, 360, 400, len(obs) - 1} {
		first := house()
		first.Sync("juniper", time.Time{}, endOfTime, append([]detect.Observation(nil), obs[:cut]...))
		got := first.Advance(obs[cut-1].Time())
		var open []home.Finding
		for _, f := range first.members["juniper"].told {
			open = append(open, f)
		}
		second := house()
		second.Sync("juniper", time.Time{}, endOfTime, append([]detect.Observation(nil), obs[:cut]...))
		second.Restore(first.Reached(), open)
		got = append(got, run(second, obs[cut:], nil)...)
		if !reflect.DeepEqual(got, want) {
			t.Errorf("cut at %d:\n%s\nwant\n%s", cut, brief(got), brief(want))
		}
	}
}

// What comes late is told when it is known, never as if it had been known before.
func TestHouse_Sync_LateIsToldNow(t *testing.T) {
	obs := story(170)
	h := house()
	early, late := obs[:300], obs[300:]
	run(h, early, nil)
	now := obs[len(obs)-1].Time().Add(72 * time.Hour)
	if turned := h.Advance(now); hasSign(turned, home.WeightFalling) {
		t.Fatalf("found without the readings: %s", brief(turned))
	}
	h.Sync("juniper", late[0].Time(), endOfTime, append([]detect.Observation(nil), late...))
	reached := h.Reached()
	turned := h.Advance(now.Add(time.Hour))
	if !hasSign(turned, home.WeightFalling) {
		t.Fatalf("got %s", brief(turned))
	}
	for _, x := range turned {
		if x.At.Before(reached) || x.Finding.Open() && x.Finding.Sign == home.WeightFalling && x.Finding.Raised.Before(reached) {
			t.Errorf("told at %v, raised %v, before %v was reached", x.At, x.Finding.Raised, reached)
		}
	}
	// A correction that takes the loss away again closes it, once it has stood
	// for a while, and says why.
	h.Sync("juniper", late[0].Time(), endOfTime, nil)
	if turned = h.Advance(now.Add(2 * time.Hour)); hasTurn(turned, home.WeightFalling, home.Closed) {
		t.Errorf("closed at once: %s", brief(turned))
	}
	turned = h.Advance(now.Add(2*time.Hour + Doubt))
	if !hasTurn(turned, home.WeightFalling, home.Closed) || turned[0].Finding.Reason == "" {
		t.Errorf("after the correction: %s", brief(turned))
	}
}

// Visits that change their name back and forth do not tell a finding twice.
func TestHouse_Sync_BackAndForthIsToldOnce(t *testing.T) {
	obs := story(170)
	h := house()
	all := run(h, obs, nil)
	if !hasSign(all, home.WeightFalling) {
		t.Fatal("the story finds nothing")
	}
	late := obs[330:]
	now := h.Reached().Add(Lag)
	for i := range 6 {
		part := late
		if i%2 == 0 {
			part = nil
		}
		h.Sync("juniper", late[0].Time(), endOfTime, append([]detect.Observation(nil), part...))
		now = now.Add(12 * time.Hour)
		for _, x := range h.Advance(now) {
			if x.Finding.Sign == home.WeightFalling && (x.Turn == home.Raised || x.Turn == home.Closed) {
				t.Errorf("turn %d: %s", i, brief([]home.Transition{x}))
			}
		}
	}
}

func TestHouse_SetHousehold_LeavingCloses(t *testing.T) {
	h := house()
	run(h, story(170), nil)
	if len(h.members["juniper"].told) == 0 {
		t.Fatal("nothing is open")
	}
	h.SetHousehold(home.Household{})
	turned := h.Advance(h.Reached().Add(Lag))
	if len(turned) == 0 || turned[0].Turn != home.Closed {
		t.Errorf("got %s", brief(turned))
	}
}

// A red flag does not wait for the lag.
func TestHouse_Advance_RedFlagAtOnce(t *testing.T) {
	h := house()
	at := start.Add(10 * time.Hour)
	h.Sync("juniper", at, at.Add(home.TimeStep), []detect.Observation{{Check: &home.HomeCheck{
		ID: "c", Cat: "juniper", Time: at, RedFlags: []home.RedFlag{home.Straining}}}})
	turned := h.Advance(at.Add(time.Second))
	if len(turned) != 1 || turned[0].Finding.Urgency != home.Now {
		t.Errorf("got %s", brief(turned))
	}
}

// A scale that stops is told, stays told whatever is done meanwhile, also over a
// start without its old readings, and is over with its next word.
func TestHouse_Advance_ScaleSilent(t *testing.T) {
	box := home.Household{Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}}}
	heard := func(from, to int) (obs []detect.Observation) {
		for h := from; h < to; h++ {
			obs = append(obs, detect.Observation{Heard: start.Add(time.Duration(h) * time.Hour)})
		}
		return obs
	}
	h := NewHouse(detect.Options{})
	h.SetHousehold(box)
	h.Sync("box-1", time.Time{}, endOfTime, heard(0, 24*20))
	if turned := h.Advance(start.Add(24 * 20 * time.Hour)); len(turned) != 0 {
		t.Fatalf("while it speaks: %s", brief(turned))
	}
	told := h.Advance(start.Add(24 * 21 * time.Hour))
	if !hasSign(told, home.ScaleSilent) || told[0].Finding.Source != "box-1" {
		t.Fatalf("got %s", brief(told))
	}
	if n := h.members["box-1"].seen.len(); n != 24*20 {
		t.Errorf("%d hours are remembered", n)
	}
	again := NewHouse(detect.Options{})
	again.SetHousehold(box)
	again.Restore(h.Reached(), []home.Finding{told[0].Finding})
	if turned := again.Advance(start.Add(24 * 90 * time.Hour)); len(turned) != 0 {
		t.Errorf("after a start: %s", brief(turned))
	}
	at := start.Add(24*90*time.Hour + time.Minute)
	again.Sync("box-1", at, at.Add(home.TimeStep), []detect.Observation{{Heard: at}})
	if turned := again.Advance(at.Add(time.Hour)); !hasTurn(turned, home.ScaleSilent, home.Closed) {
		t.Errorf("after its next word: %s", brief(turned))
	}
	again.Sync("box-1", at.Add(time.Hour), endOfTime, heard(24*91, 24*400))
	again.Advance(start.Add(24 * 400 * time.Hour))
	if n := again.members["box-1"].seen.len(); n > 24*150 {
		t.Errorf("%d hours are remembered of %d", n, 24*309)
	}
}

// A scale that was cut off and kept its readings sends them all when it is back: what
// was told of its silence is over at once, though there never was one. Where it sends
// what it kept and is silent since, that is not so.
func TestHouse_Advance_ScaleSilent_SentLate(t *testing.T) {
	hour := func(h int) time.Time { return start.Add(time.Duration(h) * time.Hour) }
	heard := func(from, to int) (obs []detect.Observation) {
		for h := from; h < to; h++ {
			obs = append(obs, detect.Observation{Heard: hour(h)})
		}
		return obs
	}
	for _, row := range []struct {
		name string
		to   int // the first hour of which nothing is sent
		over bool
	}{
		{"back", 24*24 + 1, true},
		{"a part", 24*20 + 2, false},
	} {
		h := NewHouse(detect.Options{})
		h.SetHousehold(home.Household{Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}}})
		h.Sync("box-1", time.Time{}, endOfTime, heard(0, 24*20))
		if told := h.Advance(hour(24 * 24)); !hasSign(told, home.ScaleSilent) {
			t.Fatalf("%s: nothing told: %s", row.name, brief(told))
		}
		h.Sync("box-1", hour(24*20), endOfTime, heard(24*20, row.to))
		if turned := h.Advance(hour(24*24 + 1)); hasTurn(turned, home.ScaleSilent, home.Closed) != row.over {
			t.Errorf("%s: %s", row.name, brief(turned))
		}
	}
}

func hasSign(turned []home.Transition, s home.Sign) bool { return hasTurn(turned, s, home.Raised) }

func hasTurn(turned []home.Transition, s home.Sign, turn home.Turn) bool {
	for _, x := range turned {
		if x.Finding.Sign == s && x.Turn == turn {
			return true
		}
	}
	return false
}

func brief(turned []home.Transition) string {
	s := ""
	for _, x := range turned {
		s += fmt.Sprintf("%s %s %s %s raised %s\n", x.At.Format(time.RFC3339), x.Turn, x.Finding.Sign, x.Finding.Urgency, x.Finding.Raised.Format(time.RFC3339))
	}
	return s
}

// A finding that was told of by a clock that ran ahead is told of again when late
// readings move its figures, and not only when that date has come.
func TestHouse_Restore_UpdatedAhead(t *testing.T) {
	obs := story(150)
	first := house()
	run(first, obs, nil)
	var open []home.Finding
	for _, f := range first.members["juniper"].told {
		f.Updated = first.Reached().AddDate(0, 1, 0)
		open = append(open, f)
	}
	second := house()
	second.Sync("juniper", time.Time{}, endOfTime, append([]detect.Observation(nil), obs...))
	second.Restore(first.Reached(), open)
	now := first.Reached().Add(48 * time.Hour)
	second.Advance(now)
	for i := range 10 {
		late := home.Weighing{Cat: "juniper", Time: obs[len(obs)-40+3*i].Time().Add(time.Minute), Kg: 4.2, SDKg: 0.01, Source: "box-1", Confidence: 1}
		second.Sync("juniper", late.Time, late.Time.Add(home.TimeStep), []detect.Observation{{Weighing: &late}})
	}
	turned := second.Advance(now)
	if !slices.ContainsFunc(turned, func(t home.Transition) bool { return t.Finding.Sign == home.WeightFalling }) {
		t.Errorf("of %d findings was told %s", len(open), brief(turned))
	}
}
