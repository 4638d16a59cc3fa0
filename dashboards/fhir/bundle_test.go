package fhir_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	r4 "github.com/samply/golang-fhir-models/fhir-models/fhir"
	"pgregory.net/rapid"

	"weighbeam/dashboards/fhir"
	"weighbeam/home"
)

var update = flag.Bool("update", false, "rewrite the golden files")

var at = time.Date(2026, 3, 25, 20, 15, 0, 500_000_000, time.UTC)

// record has one reading of every kind.
func record() fhir.Record {
	r := fhir.Record{Made: at.AddDate(0, 0, 3),
		Cat:    home.Cat{ID: "plum", Name: "Plum", Born: time.Date(2017, 9, 12, 0, 0, 0, 0, time.UTC), Sex: "female", Neutered: true, Chip: "276000000000123"},
		Scales: []home.Scale{{ID: "hall-box", Kind: home.LitterBox}},
		Checks: []home.HomeCheck{{ID: "c1", Cat: "plum", Time: at, By: "Ines", Note: "Slept <all> day.", RedFlags: []home.RedFlag{home.OpenMouth},
			Seen:  []home.Seen{{Part: home.BodyScore, Number: 4, HasNumber: true}, {Part: home.Ears, Side: home.Left, Values: []string{"red", "sore"}}},
			Lumps: []home.Lump{{ID: "l1", Place: home.AtNeck, Side: home.Right, LengthMm: 8, WidthMm: 6, Note: "soft"}, {ID: "l2", Place: home.AtBack, Gone: true}},
			Given: []home.Given{{Kind: home.Food, What: "Tins", Amount: "85 g", Taken: home.TookHalf}, {Kind: home.Food, What: "Tins"}}}},
		Corrections: []home.Correction{
			{ID: "k1", Cat: "plum", Matter: home.OfCheck, Target: "c0", Replacement: "c1", At: at, By: "Ines", Why: "wrong ear"},
			{ID: "k2", Cat: "plum", Matter: home.OfReading, Target: "hand/breaths/1/0/plum", Replacement: "hand/breaths/" + fmt.Sprint(at.Add(3*time.Hour).UnixMicro()) + "/0/plum", At: at, Why: "counted again"},
			{ID: "k3", Cat: "plum", Matter: home.OfReading, Target: "hand/weight/2/0/plum", At: at, Why: "another cat"}}}
	add := func(r2 home.Reading) {
		r2.Cat, r2.Time = "plum", at.Add(time.Duration(len(r.Readings))*time.Hour)
		r.Readings = append(r.Readings, r2)
	}
	add(home.Reading{Source: "hall-box", Quantity: home.Weight, Value: 3.8925, SD: 0.015})
	add(home.Reading{Source: "gone-box", Quantity: home.Weight, Value: 3.9})
	add(home.Reading{Source: home.Clinic, Quantity: home.Weight, Value: 3.86, SD: 0.01})
	add(home.Reading{Source: home.Hand, Quantity: home.Breaths, Value: 11, Window: 30 * time.Second, State: home.Asleep, Note: "on the sofa"})
	add(home.Reading{Source: home.Hand, Quantity: home.Heartbeats, Value: 40, Window: 15 * time.Second, State: home.Resting})
	add(home.Reading{Source: home.Hand, Quantity: home.Temperature, Value: 38.3})
	add(home.Reading{Source: "bowl", Quantity: home.Intake, Value: 12.5})
	add(home.Reading{Source: "bowl", Quantity: home.Drunk, Value: 30})
	add(home.Reading{Source: "hall-box", Quantity: home.Deposit, Value: -1.5})
	add(home.Reading{Source: "hall-box", Quantity: home.Stay, Value: 70})
	return r
}

func bundle(t testing.TB, r fhir.Record) []byte {
	t.Helper()
	b, err := fhir.Bundle(r)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestBundle_Golden(t *testing.T) {
	got, path := bundle(t, record()), filepath.Join("testdata", "plum.fhir.json")
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("the bundle changed: run with -update and read the diff")
	}
}

// observations reads a bundle back with the library's model, refusing what the
// model does not know.
func observations(t testing.TB, content []byte) (r4.Patient, []r4.Observation) {
	t.Helper()
	var b r4.Bundle
	strict(t, content, &b)
	var p r4.Patient
	var all []r4.Observation
	for _, e := range b.Entry {
		var kind struct{ ResourceType string }
		if err := json.Unmarshal(e.Resource, &kind); err != nil {
			t.Fatal(err)
		}
		switch kind.ResourceType {
		case "Patient":
			strict(t, e.Resource, &p)
		case "Device":
			strict(t, e.Resource, &r4.Device{})
		case "Provenance":
			strict(t, e.Resource, &r4.Provenance{})
		case "Observation":
			var o r4.Observation
			strict(t, e.Resource, &o)
			all = append(all, o)
		default:
			t.Errorf("a %q", kind.ResourceType)
		}
	}
	return p, all
}

var kindOfResource = regexp.MustCompile(`\s*"resourceType": ?"[A-Za-z]+",?`)

// strict decodes without the discriminator, which the model's types do not hold.
func strict(t testing.TB, content []byte, into any) {
	t.Helper()
	if _, isBundle := into.(*r4.Bundle); !isBundle {
		content = kindOfResource.ReplaceAll(content, nil)
		content = regexp.MustCompile(`,\s*}\s*$`).ReplaceAll(content, []byte("}"))
	}
	d := json.NewDecoder(bytes.NewReader(content))
	if _, isBundle := into.(*r4.Bundle); !isBundle {
		d.DisallowUnknownFields()
	}
	if err := d.Decode(into); err != nil {
		t.Fatalf("%v in %s", err, content)
	}
}

// Codes and units are those of HL7 FHIR R4's vital signs: LOINC 29463-7, 9279-1,
// 8867-4, 8310-5 in kg, /min, /min and Cel.
func TestBundle_ReadBack_HoldsEachNumber(t *testing.T) {
	p, all := observations(t, bundle(t, record()))
	if *p.Name[0].Text != "Plum" || *p.BirthDate != "2017-09-12" || p.Gender.Code() != "female" || *p.Identifier[0].Value != "276000000000123" ||
		p.Extension[0].Url != "http://hl7.org/fhir/StructureDefinition/patient-animal" || len(p.Extension[0].Extension[0].ValueCodeableConcept.Coding) != 0 ||
		*p.Extension[0].Extension[1].ValueCodeableConcept.Coding[0].Code != "neutered" {
		t.Errorf("the patient is %+v", p)
	}
	for i, want := range []struct{ loinc, value, unit string }{
		{"29463-7", "3.8925", "kg"}, {"29463-7", "3.9", "kg"}, {"29463-7", "3.86", "kg"},
		{"9279-1", "22", "/min"}, {"8867-4", "160", "/min"}, {"8310-5", "38.3", "Cel"},
		// No code is known for these: they are told in words.
		{"", "12.5", "g"}, {"", "30", "mL"}, {"", "-1.5", "g"}, {"", "70", "s"},
	} {
		o := all[i]
		code := ""
		if len(o.Code.Coding) > 0 {
			code = *o.Code.Coding[0].Code
		}
		if code != want.loinc || o.ValueQuantity.Value.String() != want.value || *o.ValueQuantity.Code != want.unit || *o.ValueQuantity.System != "http://unitsofmeasure.org" {
			t.Errorf("observation %d: %s %s %s, want %+v", i, code, *o.ValueQuantity.Value, *o.ValueQuantity.Code, want)
		}
		if (code != "") != (len(o.Category) > 0) || *o.Subject.Display != "Plum" {
			t.Errorf("observation %d: category %v, subject %v", i, o.Category, o.Subject)
		}
	}
	if d := all[0].Device; d.Reference == nil || *d.Display != "hall-box" {
		t.Errorf("the first was measured by %+v", d)
	}
	if d := all[1].Device; d.Reference != nil || *d.Display != "gone-box" {
		t.Errorf("a scale that left is %+v", d)
	}
	// A count says how long, how many and in what state, and holds its minute and a half apart.
	breaths := all[3]
	if *breaths.EffectivePeriod.Start != "2026-03-25T23:15:00.5Z" || *breaths.EffectivePeriod.End != "2026-03-25T23:15:30.5Z" || breaths.EffectiveDateTime != nil ||
		breaths.Component[0].ValueQuantity.Value.String() != "11" || breaths.Component[1].ValueQuantity.Value.String() != "30" || *breaths.Component[2].ValueString != "asleep" {
		t.Errorf("a count is %+v", breaths)
	}
	if last := all[len(all)-1]; *last.ValueString != "Slept <all> day." || *last.Performer[0].Display != "Ines" {
		t.Errorf("the note is %+v", last)
	}
}

// A cat of whom nothing is written down is a patient, too, and nothing is made up.
func TestBundle_OfHardlyAnything_InventsNothing(t *testing.T) {
	p, all := observations(t, bundle(t, fhir.Record{Cat: home.Cat{ID: "x", Name: "X", Born: time.Date(2014, 1, 1, 0, 0, 0, 0, time.UTC), BornYear: true}, Made: at}))
	if len(all) != 0 || *p.BirthDate != "2014" || p.Gender.Code() != "unknown" || len(p.Identifier) != 0 || len(p.Extension[0].Extension) != 1 {
		t.Errorf("%+v %+v", p, all)
	}
}

// Any number comes back as it was, and every address in a bundle is one.
func TestBundle_AnyReadings_ComeBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := fhir.Record{Cat: home.Cat{ID: "plum", Name: rapid.String().Draw(rt, "name")}, Made: at}
		for i := range rapid.IntRange(0, 8).Draw(rt, "n") {
			r.Readings = append(r.Readings, home.Reading{Source: "box", Cat: "plum", Quantity: home.Weight, Seq: int64(i), Time: at,
				Value: rapid.Float64Range(0.03, 30).Draw(rt, "kg"), Note: rapid.String().Draw(rt, "note")})
		}
		content := bundle(t, r)
		_, all := observations(t, content)
		for i, o := range all {
			if v, err := o.ValueQuantity.Value.Float64(); err != nil || v != r.Readings[i].Value {
				rt.Errorf("%v came back as %s", r.Readings[i].Value, o.ValueQuantity.Value)
			}
		}
		urls := regexp.MustCompile(`"fullUrl": "([^"]+)"`).FindAllStringSubmatch(string(content), -1)
		seen := map[string]bool{}
		for _, u := range urls {
			if seen[u[1]] || !strings.HasPrefix(u[1], "urn:uuid:") {
				rt.Errorf("the address %s stands twice, or is none", u[1])
			}
			seen[u[1]] = true
		}
	})
}

// What was put right points to what took its place, what was taken back to the cat.
func TestBundle_Corrections_PointToWhatStandsNow(t *testing.T) {
	content := bundle(t, record())
	var b r4.Bundle
	strict(t, content, &b)
	at := map[string]string{} // kind and words by address
	var all []r4.Provenance
	for _, e := range b.Entry {
		var some struct {
			ResourceType string
			Code         struct{ Text string }
		}
		if err := json.Unmarshal(e.Resource, &some); err != nil {
			t.Fatal(err)
		}
		at[*e.FullUrl] = some.ResourceType + " " + some.Code.Text
		if some.ResourceType == "Provenance" {
			var p r4.Provenance
			strict(t, e.Resource, &p)
			all = append(all, p)
		}
	}
	for i, want := range []struct {
		targets             []string
		role, old, by, does string
	}{
		{[]string{"Observation red flag seen at home", "Observation body condition", "Observation ears, left", "Observation lump l1", "Observation lump l2", "Observation food given", "Observation food given", "Observation note of the keeper"}, "revision", "c0", "Ines", "put right"},
		{[]string{"Observation Respiratory rate"}, "revision", "hand/breaths/1/0/plum", "a person at home", "put right"},
		{[]string{"Patient "}, "removal", "hand/weight/2/0/plum", "a person at home", "taken back"},
	} {
		p := all[i]
		var targets []string
		for _, r := range p.Target {
			targets = append(targets, at[*r.Reference])
		}
		if !slices.Equal(targets, want.targets) || p.Entity[0].Role.Code() != want.role || *p.Entity[0].What.Identifier.Value != want.old || *p.Agent[0].Who.Display != want.by || *p.Activity.Text != want.does {
			t.Errorf("correction %d: of %v, %+v", i, targets, p)
		}
	}
}
