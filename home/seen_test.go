package home

import (
	"math"
	"strings"
	"testing"
	"time"
)

func TestSeen_Valid(t *testing.T) {
	for _, row := range []struct {
		name string
		s    Seen
		want string // part of the error; "" for none
	}{
		{"one value", Seen{Part: Gums, Values: []string{"pale"}}, ""},
		{"as usual", Seen{Part: Gums, Values: []string{Usual}}, ""},
		// Eyes can be two things at once, on one side; gums have one colour and no sides.
		{"two values", Seen{Part: Eyes, Side: Left, Values: []string{"red", "watery"}}, ""},
		{"two colours", Seen{Part: Gums, Values: []string{"pale", "red"}}, "one value"},
		{"a side of the gums", Seen{Part: Gums, Side: Left, Values: []string{"pale"}}, "side"},
		{"a third side", Seen{Part: Eyes, Side: "middle", Values: []string{"red"}}, "side"},
		// As usual and something else cannot both be.
		{"usual and red", Seen{Part: Eyes, Values: []string{Usual, "red"}}, "as-usual"},
		{"red twice", Seen{Part: Eyes, Values: []string{"red", "red"}}, "twice"},
		// A node may have a size beside how it feels, or alone.
		{"size and feel", Seen{Part: NodeKnee, Side: Right, Values: []string{"firm"}, Number: 8, HasNumber: true}, ""},
		{"size alone", Seen{Part: NodeKnee, Number: 8, HasNumber: true}, ""},
		{"a node of a metre", Seen{Part: NodeKnee, Number: 1000, HasNumber: true}, "outside"},
		// The scores end where their sources end: 1 to 9 (Laflamme 1997), 0 to 2.
		{"body score 9", Seen{Part: BodyScore, Number: 9, HasNumber: true}, ""},
		{"body score 0", Seen{Part: BodyScore, Number: 0, HasNumber: true}, "outside"},
		{"body score 10", Seen{Part: BodyScore, Number: 10, HasNumber: true}, "outside"},
		{"half a score", Seen{Part: BodyScore, Number: 4.5, HasNumber: true}, "whole"},
		{"no number", Seen{Part: BodyScore, Number: math.NaN(), HasNumber: true}, "outside"},
		{"a face of 0", Seen{Part: FaceEars, HasNumber: true}, ""},
		{"a face of 3", Seen{Part: FaceEars, Number: 3, HasNumber: true}, "outside"},
		{"a face as usual", Seen{Part: FaceEars, Values: []string{Usual}}, "as-usual"},
		{"a number that is none", Seen{Part: BodyScore, Number: 5, Values: []string{Usual}}, "none"},
		{"a number for words", Seen{Part: Appetite, Number: 5, HasNumber: true}, "no number"},
		{"nothing", Seen{Part: Gums}, "nothing is said"},
		{"a made-up value", Seen{Part: Gums, Values: []string{"plaid"}}, "pale"},
		{"a made-up part", Seen{Part: "wings", Values: []string{Usual}}, "unknown part"},
	} {
		err := row.s.Valid()
		if row.want == "" && err != nil || row.want != "" && (err == nil || !strings.Contains(err.Error(), row.want)) {
			t.Errorf("%s: got %v, want %q", row.name, err, row.want)
		}
	}
}

// Each part is listed once and each of its values can be stored and read.
func TestParts_AreWhole(t *testing.T) {
	if len(Parts()) != len(partTraits) {
		t.Errorf("%d parts are listed, %d are known", len(Parts()), len(partTraits))
	}
	for _, p := range Parts() {
		trait, ok := p.Trait()
		if !ok {
			t.Errorf("%s has no trait", p)
		}
		for _, v := range trait.Values {
			s := Seen{Part: p, Values: []string{v}}
			if err := s.Valid(); err != nil || strings.ContainsAny(s.Words(), "-_") {
				t.Errorf("%v reads %q, %v", s, s.Words(), err)
			}
		}
	}
	got := Seen{Part: NodeKnee, Side: Left, Values: []string{"firm"}, Number: 8, HasNumber: true}.Words()
	if got != "node knee, left: firm, 8 mm" {
		t.Errorf("got %q", got)
	}
	if got := (Seen{Part: BodyScore, Number: 4, HasNumber: true}).Words(); got != "body condition: 4 of 9" {
		t.Errorf("got %q", got)
	}
}

// What cannot wait is a red flag also where it was ticked as a look.
func TestSeen_RedFlag(t *testing.T) {
	for _, row := range []struct {
		part  Part
		value string
		want  RedFlag
	}{
		// Merck Veterinary Manual, triage table: blue, white and muddy gums; pale ones are to be told soon, not now.
		{Gums, "white", GumColour}, {Gums, "blue", GumColour}, {Gums, "grey", GumColour}, {Gums, "pale", ""}, {Gums, "pink", ""},
		{BreathLook, "open-mouth", OpenMouth}, {BreathLook, "hard-work", HardBreath}, {BreathLook, "coughing", ""},
		{Urine, "strains-nothing-comes", Straining}, {Urine, "more-often", ""}, {Gait, "drags-hind-legs", HindLegs},
		{Alertness, "cannot-be-roused", Collapse}, {Alertness, "quieter", ""},
	} {
		s := Seen{Part: row.part, Values: []string{row.value}}
		if got, ok := s.RedFlag(); got != row.want || ok != (row.want != "") || s.Valid() != nil {
			t.Errorf("%s %s: got %q, %v", row.part, row.value, got, s.Valid())
		}
	}
}

// Evangelista et al. 2019: more than 0.39 of the highest sum is likely pain. Of ten
// points 4 is over and 3 is not; of four features seen, the highest sum is 8.
func TestPainFace_CountsWhatWasSeen(t *testing.T) {
	face := func(scores ...float64) (seen []Seen) {
		for i, n := range scores {
			seen = append(seen, Seen{Part: FaceParts()[i], Number: n, HasNumber: true})
		}
		return append(seen, Seen{Part: BodyScore, Number: 9, HasNumber: true})
	}
	for _, row := range []struct {
		scores []float64
		sum    float64
		most   float64
		likely bool
	}{{[]float64{1, 1, 1, 1, 0}, 4, 10, true}, {[]float64{1, 1, 1, 0, 0}, 3, 10, false}, {[]float64{2, 1, 1, 0}, 4, 8, true}, {nil, 0, 0, false}} {
		sum, most := PainFace(face(row.scores...))
		if sum != row.sum || most != row.most || (most > 0 && sum/most > 0.39) != row.likely {
			t.Errorf("%v: got %g of %g", row.scores, sum, most)
		}
	}
}

func TestHomeCheck_Valid_Parts(t *testing.T) {
	lump := Lump{ID: "neck-1", Place: AtNeck, LengthMm: 6}
	check := func(change func(*HomeCheck)) HomeCheck {
		c := HomeCheck{ID: "1", Cat: "juniper", Time: noon}
		change(&c)
		return c
	}
	for _, row := range []struct {
		name string
		c    HomeCheck
		want string
	}{
		// Any one part is a check.
		{"seen", check(func(c *HomeCheck) { c.Seen = []Seen{{Part: Gums, Values: []string{Usual}}} }), ""},
		{"a lump", check(func(c *HomeCheck) { c.Lumps = []Lump{lump} }), ""},
		{"food", check(func(c *HomeCheck) { c.Given = []Given{{Kind: Food, What: "trout", Taken: TookHalf}} }), ""},
		{"a photo", check(func(c *HomeCheck) { c.Photos = []Photo{{ID: PhotoID([]byte{1})}} }), ""},
		// What is told of twice is told of once or not at all.
		{"gums twice", check(func(c *HomeCheck) {
			c.Seen = []Seen{{Part: Gums, Values: []string{Usual}}, {Part: Gums, Values: []string{"pale"}}}
		}), "twice"},
		{"both eyes", check(func(c *HomeCheck) {
			c.Seen = []Seen{{Part: Eyes, Side: Left, Values: []string{Usual}}, {Part: Eyes, Side: Right, Values: []string{"red"}}}
		}), ""},
		{"a lump twice", check(func(c *HomeCheck) { c.Lumps = []Lump{lump, lump} }), "twice"},
		{"a lump in metres", check(func(c *HomeCheck) { c.Lumps = []Lump{{ID: "a", Place: AtNeck, LengthMm: 6000}} }), "mm"},
		{"a lump nowhere", check(func(c *HomeCheck) { c.Lumps = []Lump{{ID: "a"}} }), "place"},
		{"nothing given", check(func(c *HomeCheck) { c.Given = []Given{{Kind: Food}} }), "what was given"},
		{"an odd kind", check(func(c *HomeCheck) { c.Given = []Given{{Kind: "toy", What: "mouse"}} }), "kind"},
		{"a photo of no name", check(func(c *HomeCheck) { c.Photos = []Photo{{}} }), "picture"},
	} {
		err := row.c.Valid()
		if row.want == "" && err != nil || row.want != "" && (err == nil || !strings.Contains(err.Error(), row.want)) {
			t.Errorf("%s: got %v, want %q", row.name, err, row.want)
		}
	}
	for _, p := range Places() {
		if err := (Lump{ID: "a", Place: p, FirstSeen: time.Time{}}).Valid(); err != nil {
			t.Errorf("%s: %v", p, err)
		}
	}
}
