package watch

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// later changes the past of a house as visits that get another name do: what was
// seen from one to before another of all is changed, taken away or put back.
func later(rng *rand.Rand, all []detect.Observation) (from, to time.Time, part []detect.Observation) {
	back := 1 + int(float64(len(all))*min(1, 0.02*rng.ExpFloat64()))
	lo := max(0, len(all)-back)
	hi := min(len(all), lo+1+rng.IntN(4))
	from, to = all[lo].Time(), all[hi-1].Time().Add(home.TimeStep)
	for _, o := range all[lo:hi] {
		switch rng.IntN(3) {
		case 0:
			continue
		case 1:
			if o.Weighing != nil {
				w := *o.Weighing
				w.Confidence = 0.1 + 0.9*rng.Float64()
				o.Weighing = &w
			}
		}
		part = append(part, o)
	}
	return from, to, part
}

// What is made anew from a waypoint is what is made anew from the start: the same
// turns at the same times, whatever of the past changes, however long ago, between any
// two steps.
func TestHouse_Sync_FromAWaypointAsFromTheStart(t *testing.T) {
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 7))
		near, whole := house(), house()
		obs := story(220)
		var got, want []home.Transition
		most := 0
		for i := 0; i < len(obs); {
			part := obs[i:min(len(obs), i+1+rng.IntN(12))]
			i += len(part)
			now := part[len(part)-1].Time().Add(time.Duration(rng.IntN(5)) * time.Hour)
			for _, o := range part {
				near.Add("juniper", o)
				whole.Add("juniper", o)
			}
			if rng.IntN(2) == 0 {
				from, to, part := later(rng, obs[:i])
				near.Sync("juniper", from, to, slices.Clone(part))
				whole.Sync("juniper", from, to, slices.Clone(part))
			}
			most = max(most, len(near.members["juniper"].waypoints))
			whole.members["juniper"].waypoints = nil
			got, want = append(got, near.Advance(now)...), append(want, whole.Advance(now)...)
			if !reflect.DeepEqual(got, want) {
				t.Fatalf("seed %d, %v: from a waypoint\n%s\nfrom the start\n%s", seed, now, brief(got), brief(want))
			}
		}
		if most < 5 || most > 20 || !hasSign(got, home.WeightFalling) {
			t.Errorf("seed %d: %d waypoints, turned\n%s", seed, most, brief(got))
		}
	}
}

// wellFor is story with a cat that stays well: over years it would lose all it has.
func wellFor(days int) []detect.Observation {
	obs := story(days)
	for i, o := range obs {
		if o.Weighing != nil {
			o.Weighing.Kg = 4.6 + 0.02*float64(i*7%5-2)
		}
	}
	return obs
}

// What was seen some days ago and changes is stepped again from not much longer ago, in
// a history of ten years.
func TestMember_Remake_StepsLittle(t *testing.T) {
	h := house()
	obs := wellFor(3650)
	for _, o := range obs {
		h.Add("juniper", o)
	}
	now := obs[len(obs)-1].Time().Add(Lag)
	h.Advance(now)
	m := h.members["juniper"]
	for _, days := range []int{200, 60, 20, 5, 1} {
		from := now.AddDate(0, 0, -days)
		h.Sync("juniper", from, from.Add(24*time.Hour), nil)
		first := m.seen.from(from)
		if n := len(m.waypoints); days < 200 && (n == 0 || now.Sub(m.waypoints[n-1].at) > time.Duration(2*days+9)*24*time.Hour) {
			t.Errorf("what is %d days old is stepped again from %v, %d waypoints", days, m.waypoints, n)
		} else if n > 0 && m.waypoints[n-1].next > first {
			t.Errorf("what is %d days old lies before where it is stepped from", days)
		}
		h.Advance(now)
	}
}
