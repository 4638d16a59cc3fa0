package simulator_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
)

func TestParseFaults_Names(t *testing.T) {
	for _, c := range []struct {
		in   string
		want simulator.Fault
	}{
		// Nothing is nothing, said or not.
		{"", simulator.NoFault}, {"none", simulator.NoFault},
		// One and several, with blanks as people type them.
		{"spikes", simulator.Spikes}, {" digging, knock ", simulator.Digging | simulator.Knock},
		// All but some, in the order of the words.
		{"all,-gap", simulator.AllFaults &^ simulator.Gap}, {"-gap,all", simulator.AllFaults},
	} {
		got, err := simulator.ParseFaults(c.in)
		if err != nil || got != c.want {
			t.Errorf("%q: %v %v, want %v", c.in, got, err, c.want)
		}
	}
	if _, err := simulator.ParseFaults("spikes,earthquake"); err == nil || !strings.Contains(err.Error(), "litter-change") {
		t.Errorf("an unknown fault says %v, without the names there are", err)
	}
}

func TestFault_Names_ComeBack(t *testing.T) {
	if n := len(simulator.AllFaults.Each()); n != 29 {
		t.Errorf("%d faults have a name", n)
	}
	for _, f := range simulator.AllFaults.Each() {
		if got, err := simulator.ParseFaults(f.String()); err != nil || got != f {
			t.Errorf("%s comes back as %s, %v", f, got, err)
		}
		b, _ := json.Marshal(f)
		var got simulator.Fault
		if err := json.Unmarshal(b, &got); err != nil || got != f {
			t.Errorf("%s comes back as %s, %v", b, got, err)
		}
	}
}

// Whatever is typed, what is understood comes back from its own name.
func FuzzParseFaults(f *testing.F) {
	for _, seed := range []string{"", "all,-gap", "spikes", "-", "all,all", "none,-none", "two-step,,knock", "Spikes"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, s string) {
		set, err := simulator.ParseFaults(s)
		if err != nil {
			return
		}
		if again, err := simulator.ParseFaults(set.String()); err != nil || again != set {
			t.Errorf("%q is %s, which is %s, %v", s, set, again, err)
		}
	})
}

// trial is the same house with one fault on and off.
type trial struct {
	dev     simulator.Device
	on, off *simulator.House
	fault   simulator.Fault
}

func newTrial(t *testing.T, f simulator.Fault, dev simulator.Device) trial {
	o := simulator.Options{
		Seed: 11, Start: time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC), Days: 24, Cats: 3, Scales: 1,
		Devices: []simulator.Device{dev},
	}
	off := house(t, o)
	o.Faults = f
	return trial{dev, house(t, o), off, f}
}

// trace is what the scale sent around one event.
type trace struct {
	simulator.Event
	at, kg []float64 // s since the start, kg above the load before
}

// traces collects the signal around the first events that are wanted and have
// the scale to themselves.
func traces(t *testing.T, h *simulator.House, want func(simulator.Event) bool, most int) []trace {
	t.Helper()
	var list []trace
	for i, events := 0, h.Truth(); i < len(events) && len(list) < most; i++ {
		if e := events[i]; want(e) && !e.Lost && lonely(events, i) && i > 0 {
			list = append(list, trace{Event: e})
		}
	}
	if len(list) == 0 {
		t.Fatal("no such event, alone on the scale, in all those days")
	}
	before := make([][]float64, len(list))
	for r := range h.Live(list[0].Start.Add(-7 * time.Minute)) {
		if r.Time.After(list[len(list)-1].End.Add(150 * time.Second)) {
			break
		}
		for i := range list {
			list[i].take(r, &before[i])
		}
	}
	return list
}

// take keeps a reading near the event; those before it say what zero is.
func (tr *trace) take(r home.Reading, before *[]float64) {
	s := r.Time.Sub(tr.Start).Seconds()
	switch {
	case r.Quantity != home.Load || r.Source != tr.Source || s < -420 || s > tr.lasts()+150:
	case s < -0.3:
		*before = append(*before, r.Value)
	default:
		tr.at, tr.kg = append(tr.at, s), append(tr.kg, r.Value-quantile(*before, 0.5))
	}
}

// lonely reports whether nothing else touches the scale within eight minutes.
func lonely(events []simulator.Event, i int) bool {
	e := events[i]
	for j, o := range events {
		if j != i && o.Source == e.Source && o.Start.Before(e.End.Add(8*time.Minute)) && o.End.After(e.Start.Add(-8*time.Minute)) {
			return false
		}
	}
	return true
}

func (tr trace) lasts() float64 { return tr.End.Sub(tr.Start).Seconds() }

// part is what was sent between two times in seconds from the start.
func (tr trace) part(from, to float64) []float64 {
	var kg []float64
	for i, s := range tr.at {
		if s >= from && s < to {
			kg = append(kg, tr.kg[i])
		}
	}
	return kg
}

// held is the same with the value that still held at the first of the times,
// which is all that a device with a dead band may have sent.
func (tr trace) held(from, to float64) []float64 {
	first := 0
	for i, s := range tr.at {
		if s < from {
			first = i
		}
	}
	return append([]float64{tr.kg[first]}, tr.part(from, to)...)
}

// rises is when the load first reaches a part of the mass, s.
func (tr trace) rises(part float64) float64 {
	for i, kg := range tr.kg {
		if kg >= part*tr.MassKg {
			return tr.at[i]
		}
	}
	return math.Inf(1)
}

func highest(v []float64) float64 { return quantile(v, 1) }
func lowest(v []float64) float64  { return quantile(v, 0) }

// median of a figure over traces.
func overall(list []trace, f func(trace) float64) float64 {
	var v []float64
	for _, tr := range list {
		v = append(v, f(tr))
	}
	return quantile(v, 0.5)
}

// Each way to move shows where it should, and not in a visit without it.
func TestFault_Moves_ShowInTheLoad(t *testing.T) {
	inside := func(from, to float64) func(trace) float64 {
		return func(tr trace) float64 { return sd(tr.part(from*tr.lasts(), to*tr.lasts())) }
	}
	for _, c := range []struct {
		fault   simulator.Fault
		what    string
		measure func(trace) float64
		off, on [2]float64
	}{
		// Half a cat stands there before the whole does.
		{simulator.TwoStep, "seconds until the whole cat is in", func(tr trace) float64 { return tr.rises(0.93) }, [2]float64{0.3, 1.8}, [2]float64{2, 9}},
		// Digging throws the load about before anything is left.
		{simulator.Digging, "kg of spread early", inside(0.06, 0.3), [2]float64{0.01, 0.12}, [2]float64{0.15, 1.2}},
		// So does walking in circles.
		{simulator.Turning, "kg of spread very early", inside(0.05, 0.12), [2]float64{0.01, 0.12}, [2]float64{0.1, 0.6}},
		// A jump presses harder than the cat weighs, then nothing does.
		{simulator.JumpOut, "highest of the last second against the mass", func(tr trace) float64 {
			return highest(tr.part(tr.lasts()-0.9, tr.lasts()+0.1)) / tr.MassKg
		}, [2]float64{0.7, 1.15}, [2]float64{1.3, 2.5}},
		// A restless cat moves while it squats.
		{simulator.Restless, "kg of spread in the middle", inside(0.45, 0.65), [2]float64{0.005, 0.04}, [2]float64{0.05, 0.25}},
	} {
		tt := newTrial(t, c.fault, simulator.EightyHertz())
		visit := func(f simulator.Fault) func(simulator.Event) bool {
			return func(e simulator.Event) bool {
				return e.Kind == simulator.Visit && e.Faults.Has(f) && e.End.Sub(e.Start) > 20*time.Second
			}
		}
		within(t, c.fault.String()+" off: "+c.what, overall(traces(t, tt.off, visit(0), 5), c.measure), c.off[0], c.off[1])
		within(t, c.fault.String()+" on: "+c.what, overall(traces(t, tt.on, visit(c.fault), 5), c.measure), c.on[0], c.on[1])
	}
}

// Each thing that is no visit happens only where it is switched on, and leaves
// in the box what the truth says.
func TestFault_Happenings_ShowInTheLoad(t *testing.T) {
	during := func(tr trace) []float64 { return tr.part(0, tr.lasts()) }
	for _, c := range []struct {
		fault   simulator.Fault
		kind    simulator.Kind
		measure func(trace) float64
		on      [2]float64
	}{
		// Front paws never bring the whole mass.
		{simulator.FrontPaws, simulator.Look, func(tr trace) float64 { return highest(during(tr)) / tr.MassKg }, [2]float64{0.15, 0.8}},
		// A paw from outside brings hardly any.
		{simulator.OutsidePaw, simulator.Paw, func(tr trace) float64 { return highest(during(tr)) / tr.MassKg }, [2]float64{0.02, 0.4}},
		// A bump is over in half a second, up and down.
		{simulator.Knock, simulator.Knocked, func(tr trace) float64 { return highest(during(tr)) - lowest(during(tr)) }, [2]float64{0.3, 6}},
		// A stranger weighs as a cat does.
		{simulator.Stranger, simulator.Visit, func(tr trace) float64 { return quantile(during(tr), 0.5) }, [2]float64{3, 6.2}},
		// Hands take out, put in, or lift off.
		{simulator.Scoop, simulator.Scooped, func(tr trace) float64 { return lowest(tr.part(tr.lasts(), 999)) }, [2]float64{-0.6, -0.01}},
		{simulator.TopUp, simulator.ToppedUp, func(tr trace) float64 { return lowest(tr.part(tr.lasts(), 999)) }, [2]float64{0.25, 0.85}},
		{simulator.LitterChange, simulator.Moved, func(tr trace) float64 { return lowest(during(tr)) }, [2]float64{-9, -4}},
		{simulator.LidLifted, simulator.Lid, func(tr trace) float64 { return quantile(during(tr), 0.5) }, [2]float64{-0.95, -0.45}},
		{simulator.Lean, simulator.Leaned, func(tr trace) float64 { return quantile(during(tr), 0.7) }, [2]float64{1.3, 6.5}},
	} {
		dev := simulator.FiveHertz()
		if c.fault == simulator.Knock {
			dev = simulator.EightyHertz() // a knock is over between two samples of a slower one
		}
		tt := newTrial(t, c.fault, dev)
		bears := func(e simulator.Event) bool {
			return e.Kind == c.kind && (c.kind != simulator.Visit || e.Cat == simulator.Guest)
		}
		for e := range tt.off.Events() {
			if bears(e) {
				t.Errorf("%s is off: %+v", c.fault, e)
				break
			}
		}
		list := traces(t, tt.on, bears, 5)
		within(t, c.fault.String(), overall(list, c.measure), c.on[0], c.on[1])
		for _, tr := range list {
			after := mean(tr.part(tr.lasts()+5, 999))
			within(t, c.fault.String()+": g left against the truth", 1000*after-tr.LeftG, -10, 10)
		}
	}
}

// Two cats come one after the other, or share the box.
func TestFault_Company_ShowsInTheTruth(t *testing.T) {
	for _, f := range []simulator.Fault{simulator.InTurn, simulator.AtOnce} {
		tt := newTrial(t, f, simulator.FiveHertz())
		if n := near(tt.off, f); n != 0 {
			t.Errorf("%s is off, yet %d visits touch", f, n)
		}
		if n := near(tt.on, f); n < 3 {
			t.Errorf("%s is on, yet only %d visits touch", f, n)
		}
	}
}

// near counts visits that begin within 2 s of the end of another cat's, or before it.
func near(h *simulator.House, f simulator.Fault) (n int) {
	var last simulator.Event
	for e := range h.Events() {
		if e.Kind != simulator.Visit {
			continue
		}
		if gap := e.Start.Sub(last.End); gap < 2*time.Second && e.Cat != last.Cat && (gap < -2*time.Second) == (f == simulator.AtOnce) {
			n++
		}
		last = e
	}
	return n
}
