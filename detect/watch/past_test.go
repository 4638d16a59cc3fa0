package watch

import (
	"reflect"
	"testing"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// What was seen comes back as it was, however it is kept and whatever becomes of what it
// was handed in with.
func TestPast_At_AsItWasSeen(t *testing.T) {
	known := home.Weighing{Cat: "juniper", Time: start, Kg: 4.6, SDKg: 0.02, Source: "box-1", Confidence: 0.9, Unclear: true}
	with := func(change func(w *home.Weighing)) detect.Observation {
		w := known
		change(&w)
		return detect.Observation{Weighing: &w, Box: true}
	}
	all := []detect.Observation{
		with(func(*home.Weighing) {}),
		with(func(w *home.Weighing) { w.Source, w.Unclear = "hand", false }),
		with(func(w *home.Weighing) { w.Time = w.Time.Add(time.Nanosecond) }), // finer than is kept
		with(func(w *home.Weighing) { w.Time = w.Time.In(time.FixedZone("there", 3600)) }),
		with(func(w *home.Weighing) { w.Cat = "moss" }),
		{Weighing: &known},
		{Count: &home.Reading{Cat: "juniper", Quantity: home.Breaths, Time: start.Add(time.Minute), Value: 9}},
		{Visit: &home.Visit{Cat: "juniper", End: start.Add(time.Hour)}, Box: true},
	}
	p := past{cat: "juniper"}
	var want []detect.Observation
	var scratch home.Weighing
	for i, o := range all {
		copied := o
		if o.Weighing != nil {
			w := *o.Weighing
			copied.Weighing, scratch = &w, w
			o.Weighing = &scratch
		}
		want = append(want, copied)
		p.insert(i, o)
	}
	scratch = home.Weighing{}
	if got := p.between(0, p.len()); !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v\nwant\n%+v", got, want)
	}
	for i, o := range want {
		w, ok := p.weighed(i)
		if ok != (o.Weighing != nil) || ok && w != *o.Weighing || !p.time(i).Equal(o.Time()) {
			t.Errorf("%d: %+v, %v at %v, want %+v", i, w, ok, p.time(i), o)
		}
	}
}
