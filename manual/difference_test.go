package manual

import (
	"math"
	"math/rand/v2"
	"net/url"
	"reflect"
	"testing"
	"time"

	"weighbeam/home"
)

// A scale with a step of 0.1 kg used twice: standard uncertainty 0.0408 kg, by
// GUM (JCGM 100:2008) F.2.2.1, which gives 0.29 of a step for one reading.
func TestDifference_OnTenthKilogramScale_AgreesWithGUM(t *testing.T) {
	mass, sd := difference(71.3, 67.0, 0.1)
	if math.Abs(mass-4.3) > 1e-9 {
		t.Errorf("mass is %v, want 4.3", mass)
	}
	if want := 0.1 / math.Sqrt(6); math.Abs(sd-want) > 1e-12 {
		t.Errorf("uncertainty is %v, want %v", sd, want)
	}
	if one := roundedSD(1); math.Abs(one-0.29) > 0.005 {
		t.Errorf("one rounded reading is uncertain by %v of a step, want 0.29", one)
	}
}

// The same figure found by weighing made-up people and cats many times on a
// scale that rounds. For one cat the scatter depends on where its weight lies
// between two steps, and is at most sqrt(1.5) times the stated one.
func TestDifference_Simulated_ScattersAsStated(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const step, n = 0.2, 200_000
	show := func(kg float64) float64 { return math.Round(kg/step) * step }
	_, sd := difference(1, 0, step)
	var squares float64
	for range n {
		person, cat := 60+20*rng.Float64(), 3+2*rng.Float64()
		got, _ := difference(show(person+cat), show(person), step)
		squares += (got - cat) * (got - cat)
	}
	if got := math.Sqrt(squares / n); math.Abs(got/sd-1) > 0.01 {
		t.Errorf("the differences scatter by %v, stated is %v", got, sd)
	}
}

// What was weighed by difference is offered again as it was typed, in kg or in lb
// and oz, and comes to the same when nothing is changed.
func TestReadingFields_Difference_AsTyped(t *testing.T) {
	for _, typed := range []url.Values{
		{"with": {"71.3"}, "without": {"67.0"}, "unit": {"kg"}, "step": {"0.1"}},
		{"with": {"157 lb 3 oz"}, "without": {"148"}, "unit": {"lb"}, "step": {"0.1"}},
	} {
		sent := filled(url.Values{"weight": {""}})
		for field, values := range typed {
			sent[field] = values
		}
		f := read(sent, house(), noon, time.UTC)
		if len(f.wrong) > 0 || len(f.check.Readings) == 0 {
			t.Fatalf("%v: %v", typed, f.wrong)
		}
		shown := url.Values{}
		room := newRoomOf(nil, Options{})
		for _, r := range f.check.Readings {
			if r.Quantity == home.Weight {
				room.readingFields(r, shown)
			}
		}
		if !reflect.DeepEqual(shown, typed) {
			t.Errorf("shown %v, typed %v", shown, typed)
		}
	}
}
