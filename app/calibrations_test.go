package app

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"weighbeam/app/carry"
	"weighbeam/app/replay"
	"weighbeam/detect"
	"weighbeam/home"
)

func calibration() home.Calibration {
	return home.Calibration{Source: "box-1", At: noon.Add(time.Hour), From: home.Always, By: "Ada", Gain: 1.05, GainSD: 0.001, OffsetKg: 0.01, ToKg: 5,
		Points: []home.KnownLoad{{Load: []float64{0}, From: noon, To: noon.Add(time.Minute)}, {Kg: 5, SDKg: 0.003, Load: []float64{4.75}}}}
}

// How true a scale is goes out with an export and comes in with it, once however
// often; a replay that is given the export uses it.
func TestExport_CarriesCalibrations(t *testing.T) {
	first, second := openStore(t, t.TempDir()), openStore(t, t.TempDir())
	defer first.Close()
	defer second.Close()
	h := home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper", WeightKg: 4}}, Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}}}
	r := home.Reading{Source: "box-1", Quantity: home.Weight, Time: noon.Add(2 * time.Hour), Value: 4}
	if err := first.SetHousehold(t.Context(), h); err != nil {
		t.Fatal(err)
	}
	if err := first.Calibrate(t.Context(), calibration()); err != nil {
		t.Fatal(err)
	}
	if _, err := first.Append(t.Context(), home.Batch{Readings: []home.Reading{r}}); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if _, err := carry.ExportLines(t.Context(), first, &out); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "all.jsonl")
	if err := os.WriteFile(path, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if _, err := carry.Import(t.Context(), second, second.Household, []string{path}, noon.AddDate(0, 0, 1), func(_ string, n int, err error) { t.Errorf("line %d: %v", n, err) }, nil); err != nil {
			t.Fatal(err)
		}
	}
	want := []home.Calibration{calibration()}
	if got, err := second.Calibrations(t.Context(), ""); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, %v", got, err)
	}
	got, err := carry.ReadCalibrations(path)
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Fatalf("read %+v, %v", got, err)
	}
	p := replay.New(h, got, detect.Options{})
	p.Step(r)
	if v, ok := p.End()[0].Visit(); !ok || v.MassKg != 4*1.05+0.01 {
		t.Errorf("replayed as %+v", v)
	}
}
