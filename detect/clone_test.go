package detect

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"weighbeam/home"
)

// A monitor that is cloned at any moment goes on as if it had not been, and so does the
// clone, whatever the other sees.
func TestMonitor_Clone_GoesItsOwnWay(t *testing.T) {
	obs := eventfulLife()
	cat := home.Cat{ID: "cat", Born: time.Date(2014, 3, 1, 0, 0, 0, 0, time.UTC)}
	want := lifeOf(New(cat, Options{}), obs, epoch)
	for _, part := range []float64{0.1, 0.3, 0.55, 0.8, 0.9} {
		first, rest := obs[:int(part*float64(len(obs)))], obs[int(part*float64(len(obs))):]
		m := New(cat, Options{})
		turned := lifeOf(m, first, epoch)
		c := m.Clone()
		from := first[len(first)-1].Time().Truncate(time.Hour).Add(time.Hour)
		if got := slices.Concat(turned, lifeOf(m, rest, from)); !reflect.DeepEqual(got, want) {
			t.Errorf("cloned at %v, the monitor turns %d times, want %d", part, len(got), len(want))
		}
		if got := slices.Concat(turned, lifeOf(c, rest, from)); !reflect.DeepEqual(got, want) {
			t.Errorf("cloned at %v, the clone turns %d times, want %d", part, len(got), len(want))
		}
		end := rest[len(rest)-1].Time()
		if !reflect.DeepEqual(m.Outlook(end), c.Outlook(end)) || !reflect.DeepEqual(m.Trend(), c.Trend()) {
			t.Errorf("cloned at %v, the two end apart", part)
		}
	}
}

// lifeOf steps m through obs with a tick at each full hour from the hour from on.
func lifeOf(m *Monitor, obs []Observation, from time.Time) []home.Transition {
	var turned []home.Transition
	for i := range obs {
		for ; !from.After(obs[i].Time()); from = from.Add(time.Hour) {
			turned = append(turned, m.Tick(from)...)
		}
		turned = append(turned, m.Step(obs[i])...)
	}
	return turned
}

// Nothing that a monitor may change is in reach of its clone: a field that is new, and
// was forgotten in clone, is found here.
func TestMonitor_Clone_SharesNothingThatChanges(t *testing.T) {
	m := New(home.Cat{ID: "cat"}, Options{})
	lifeOf(m, eventfulLife(), epoch)
	for i := range 3 {
		m.Step(Observation{Care: &home.Care{Cat: "cat", From: epoch.AddDate(2, 0, i), Kind: home.Step}})
	}
	own, cloned := map[uintptr]string{}, map[uintptr]string{}
	reach(reflect.ValueOf(m), "m", own)
	reach(reflect.ValueOf(m.Clone()), "m", cloned)
	for at, path := range cloned {
		if _, shared := own[at]; shared {
			t.Errorf("%s is shared", path)
		}
	}
	if len(own) < 50 {
		t.Errorf("only %d places are in reach: the test proves nothing", len(own))
	}
}

// neverChanged are shared by a monitor and its clone: they are replaced as a whole.
var neverChanged = []reflect.Type{reflect.TypeFor[*home.Finding](), reflect.TypeFor[*home.Plan](), reflect.TypeFor[*time.Location](), reflect.TypeFor[[]string]()}

// reach collects where everything lies that can be changed through v, by address.
func reach(v reflect.Value, path string, places map[uintptr]string) {
	for _, t := range neverChanged {
		if v.Type() == t {
			return
		}
	}
	switch v.Kind() {
	case reflect.Pointer:
		if _, known := places[v.Pointer()]; v.IsNil() || known {
			return
		}
		places[v.Pointer()] = path
		reach(v.Elem(), path, places)
	case reflect.Interface:
		if !v.IsNil() {
			reach(v.Elem(), path, places)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			reach(v.Field(i), path+"."+v.Type().Field(i).Name, places)
		}
	case reflect.Slice:
		if v.Len() > 0 && v.Type().Elem().Size() > 0 {
			places[v.Pointer()] = path
		}
		for i := range v.Len() {
			reach(v.Index(i), path+"[]", places)
		}
	case reflect.Array:
		for i := range v.Len() {
			reach(v.Index(i), path+"[]", places)
		}
	case reflect.Map:
		places[v.Pointer()] = path
		for it := v.MapRange(); it.Next(); {
			reach(it.Value(), path+"[]", places)
		}
	}
}
