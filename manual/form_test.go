package manual

import (
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/home"
)

var noon = time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)

func house() home.Household {
	return home.Household{Cats: []home.Cat{
		{ID: "fig", Name: "Fig", Born: time.Date(2015, 3, 1, 0, 0, 0, 0, time.UTC), Sex: "female", Neutered: true},
		{ID: "moss", Name: "<i>Moss</i>"},
	}}
}

// filled is a form that can be stored, with some fields changed.
func filled(change url.Values) url.Values {
	v := url.Values{"id": {"A1"}, "cat": {"fig"}, "when": {"2026-05-04T11:30"}, "unit": {"kg"}, "window": {"30"}, "weight": {"4.2"}}
	for k, vs := range change {
		v[k] = vs
	}
	return v
}

func TestRead_BadField_ComplainsBesideIt(t *testing.T) {
	for _, c := range []struct {
		name    string
		change  url.Values
		field   string
		message string
	}{
		// Letters, negatives, and numbers that mean something else.
		{"letters", url.Values{"weight": {"heavy"}}, "weight", msgNumber},
		{"negative", url.Values{"weight": {"-4.2"}}, "weight", msgNegative},
		{"grams for kilograms", url.Values{"weight": {"4200"}}, "weight", msgTogether},
		{"a person for a cat", url.Values{"weight": {"71"}}, "weight", msgTogether},
		{"a feather", url.Values{"weight": {"0.001"}}, "weight", msgTooLittle},
		// A difference needs both, in the right order, of a size a cat has.
		{"half a difference", url.Values{"weight": {""}, "with": {"71"}}, "without", msgOther},
		{"other half", url.Values{"weight": {""}, "without": {"67"}}, "with", msgOther},
		{"swapped", url.Values{"weight": {""}, "with": {"67"}, "without": {"71"}}, "with", msgOrder},
		{"equal", url.Values{"weight": {""}, "with": {"67"}, "without": {"67"}}, "with", msgOrder},
		{"a second person", url.Values{"weight": {""}, "with": {"130"}, "without": {"67"}}, "with", msgDifference},
		{"no scale", url.Values{"weight": {""}, "with": {"900"}, "without": {"896"}}, "with", msgPerson},
		{"both ways", url.Values{"with": {"71"}, "without": {"67"}}, "weight", msgTwoWays},
		{"step of nothing", url.Values{"step": {"0"}}, "step", msgStep},
		{"unknown unit", url.Values{"unit": {"stone"}}, "unit", msgUnit},
		// Breaths are whole, possible, and kept apart by state.
		{"half a breath", url.Values{"breaths": {"12.5"}, "state": {"asleep"}}, "breaths", msgWhole},
		{"negative breaths", url.Values{"breaths": {"-3"}, "state": {"asleep"}}, "breaths", msgNegative},
		{"too many", url.Values{"breaths": {"200"}, "state": {"asleep"}}, "breaths", msgMany},
		{"no state", url.Values{"breaths": {"12"}}, "state", msgState},
		{"made-up state", url.Values{"breaths": {"12"}, "state": {"flying"}}, "state", msgState},
		{"made-up window", url.Values{"breaths": {"12"}, "state": {"asleep"}, "window": {"7"}}, "window", msgWindow},
		// Times that cannot be.
		{"no time", url.Values{"when": {""}}, "when", msgWhenEmpty},
		{"words for a time", url.Values{"when": {"yesterday"}}, "when", msgWhen},
		{"tomorrow", url.Values{"when": {"2026-05-05T11:30"}}, "when", msgFuture},
		{"year in two digits", url.Values{"when": {"0026-05-04T11:30"}}, "when", msgLongAgo},
		// The rest.
		{"a cat that does not live here", url.Values{"cat": {"nobody"}}, "cat", msgCat},
		{"a novel", url.Values{"note": {strings.Repeat("x", home.MaxNote+1)}}, "note", msgNote},
		{"a long name", url.Values{"by": {strings.Repeat("x", 201)}}, "by", msgBy},
		{"nothing at all", url.Values{"weight": {""}}, "form", msgNothing},
	} {
		f := read(filled(c.change), house(), noon, time.UTC)
		if len(f.wrong) != 1 || f.wrong[c.field] != c.message {
			t.Errorf("%s: complaints %v, want only %s: %q", c.name, f.wrong, c.field, c.message)
		}
	}
}

// The clock of a phone may run a little ahead of the house's.
func TestRead_PhoneClockAhead_IsTaken(t *testing.T) {
	f := read(filled(url.Values{"when": {"2026-05-04T12:04"}}), house(), noon, time.UTC)
	if len(f.wrong) > 0 {
		t.Errorf("complaints: %v", f.wrong)
	}
}

// A time is the house's own, also just after its clocks were put forward.
func TestRead_InZone_KeepsTheInstant(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	f := read(filled(url.Values{"when": {"2026-03-29T03:30"}}), house(), noon, zone)
	if want := time.Date(2026, 3, 29, 1, 30, 0, 0, time.UTC); !f.check.Time.Equal(want) {
		t.Errorf("time is %v, want %v", f.check.Time, want)
	}
}

func TestIdentify_SameForm_SameNames(t *testing.T) {
	one := read(filled(nil), house(), noon, time.UTC).check
	again := read(filled(nil), house(), noon.Add(time.Minute), time.UTC).check
	changed := read(filled(url.Values{"weight": {"4.3"}}), house(), noon, time.UTC).check
	fresh := read(filled(url.Values{"id": {"B2"}}), house(), noon, time.UTC).check
	other := read(filled(url.Values{"cat": {"moss"}}), house(), noon, time.UTC).check
	if one.ID != again.ID || one.Readings[0].Seq != again.Readings[0].Seq || !one.Readings[0].Time.Equal(again.Readings[0].Time) {
		t.Error("the same form sent again is another check")
	}
	for what, c := range map[string]home.HomeCheck{"a changed form": changed, "a new form": fresh, "another cat": other} {
		if c.ID == one.ID || c.Readings[0].Seq == one.Readings[0].Seq {
			t.Errorf("%s has the names of the first", what)
		}
	}
	if at, ok := timeOf(one.ID); !ok || !at.Equal(one.Time) {
		t.Errorf("the id %s says %v, the check %v", one.ID, at, one.Time)
	}
}

// Whatever is typed, a form without complaints makes a check that can be
// stored, and a red flag is never lost.
func TestRead_AnyInput_IsStorableOrComplains(t *testing.T) {
	field := rapid.OneOf(
		rapid.SampledFrom([]string{"", "pink", "as-usual", "blue", "red", "neck", "1", "food", "mouth", "[degF]", "Cel", "38,1", "99.5", "4.2", "4,2", "71.3", "67", "12", "0.1", "-1", "asleep", "clinic", "15", "60", "kg", "lb", "9 lb 14 oz", "fig", "moss", "2026-05-04T11:30", "2026-05-04T11:30:59"}),
		rapid.String())
	rapid.Check(t, func(t *rapid.T) {
		typed := url.Values{}
		for _, name := range append([]string{"id", "p-gum-colour", "p-eyes-left", "n-body-condition", "n-node-jaw-right", "lump-a.place", "lump-a.length", "lump-a.gone", "given-0.what", "given-0.kind", "kept", "usual"}, plainFields...) {
			typed.Set(name, field.Draw(t, name))
		}
		flags := rapid.SliceOfDistinct(rapid.SampledFrom(home.RedFlags()), rapid.ID[home.RedFlag]).Draw(t, "flags")
		for _, f := range flags {
			typed.Add("flag", string(f))
		}
		f := read(typed, house(), noon, time.UTC)
		for _, flag := range flags {
			if !slices.Contains(f.check.RedFlags, flag) {
				t.Fatalf("flags %v became %v", flags, f.check.RedFlags)
			}
		}
		if err := f.check.Valid(); err != nil && len(f.wrong) == 0 {
			t.Fatalf("no complaint, but the store would refuse: %v", err)
		}
	})
}
