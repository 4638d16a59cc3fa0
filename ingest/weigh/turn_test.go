package weigh

import (
	"testing"
	"time"

	"weighbeam/home"
)

// sends is a box that weighs each second while something is on it and a while after,
// and then once a minute, with the sway on it of alternating sign: empty for an hour,
// a cat of kg for 40 s, empty again.
func sends(source string, enters time.Time, kg, sway float64, after time.Duration) []home.Reading {
	var out []home.Reading
	at, end := enters.Add(-time.Hour), enters.Add(time.Hour)
	for at.Before(end) {
		load, dt := 6.0, time.Minute
		switch since := at.Sub(enters); {
		case since >= 0 && since < 40*time.Second:
			load, dt = 6+kg, time.Second
		case since >= 0 && since < 40*time.Second+after:
			dt = time.Second
		}
		sway = -sway
		out = append(out, home.Reading{Source: source, Quantity: home.Load, Time: at, Value: load + sway})
		at = at.Add(dt)
	}
	return out
}

// One box settles within minutes, the other, whose cell is noisy and whose stay began
// before, needs longer than a name waits: the later stay waits for its turn, so
// that nothing has to be made anew.
func TestWeigher_Release_WaitsForASlowerScale(t *testing.T) {
	slow, quick := sends("box-1", noon, 4, 0.005, 5*time.Second), sends("box-2", noon.Add(20*time.Second), 5, 0.0005, time.Minute)
	w := New(house(), nil, nil)
	var order []string
	for len(slow)+len(quick) > 0 {
		from := &quick
		if len(quick) == 0 || len(slow) > 0 && slow[0].Time.Before(quick[0].Time) {
			from = &slow
		}
		r := (*from)[0]
		*from = (*from)[1:]
		w.Step(r)
		for _, v := range w.Release(r.Time) {
			order = append(order, v.Source+" "+v.Cat)
		}
		if w.Late() {
			t.Fatalf("at %v it must be made anew, after %q", r.Time, order)
		}
	}
	if len(order) != 2 || order[0] != "box-1 juniper" || order[1] != "box-2 moss" {
		t.Errorf("named %q", order)
	}
}
