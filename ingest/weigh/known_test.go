package weigh

import (
	"testing"
	"time"

	"weighbeam/home"
)

// What is known of the cats when a visit is named: what came with a name before the visit
// began, and what had its turn before the visit was over.
func TestWeigher_Release_KnowsWhatCameWithAName(t *testing.T) {
	for _, row := range []struct {
		name    string
		weighed time.Duration // from noon, when a visit of some minutes began
		between time.Duration // when names were given before it was over; zero for never
		want    string
	}{
		{"before it began", -time.Hour, 0, "juniper"},
		{"and had its turn", -time.Hour, Hold, "juniper"},
		{"while it went on", time.Minute, 0, ""},
		{"while it went on, and had its turn", time.Minute, Hold + 2*time.Minute, "juniper"},
		{"while it went on, and had no turn", 3 * time.Minute, Hold + 2*time.Minute, ""},
	} {
		h := house()
		h.Cats[0].WeightKg, h.Cats[1].WeightKg = 0, 0
		w := New(h, nil, nil)
		for i, kg := range []float64{5, 4, 5, 4, 5, 4} { // the later before the earlier
			at := noon.Add(row.weighed - time.Duration(i)*time.Second)
			w.Step(home.Reading{Source: home.Hand, Quantity: home.Weight, Time: at, Value: kg, Cat: h.Cats[(i+1)%2].ID})
		}
		w.Step(home.Reading{Source: home.Hand, Quantity: home.Weight, Time: noon.Add(row.weighed), Value: 4, Cat: "gone"})
		if row.between != 0 {
			w.Release(noon.Add(row.between))
		}
		w.close(home.Visit{Source: "box-1", Start: noon, End: noon.Add(4 * time.Minute), Event: home.CatVisit, MassKg: 4, SDKg: 0.01, Quality: 1})
		got := w.Release(noon.Add(time.Hour))
		if len(got) != 1 || got[0].Cat != row.want {
			t.Errorf("weighed %s: got %+v, want %q", row.name, got, row.want)
		}
	}
}
