package store

import (
	"reflect"
	"testing"
	"time"

	"weighbeam/home"
)

func calibration() home.Calibration {
	return home.Calibration{Source: "box-1", At: t0.Add(time.Hour), From: t0, By: "Ada", Gain: 1.01, GainSD: 0.001, OffsetKg: -5, OffsetSD: 0.002,
		GainCov: -1e-6, LinearityKg: 0.001, RepeatabilityKg: 0.0005, ToKg: 5, Warnings: []string{"Two loads show no bend."},
		Points: []home.KnownLoad{{Load: []float64{4.95}, From: t0, To: t0.Add(time.Minute)}, {Kg: 5, SDKg: 0.003, Load: []float64{9.9}}}}
}

// A calibration comes back as it was given, once however often it is sent, with
// one line of the journal; older ones stay.
func TestDB_Calibrate_OnceAndKept(t *testing.T) {
	db := fresh(t)
	first, second := calibration(), calibration()
	second.At, second.Gain = first.At.AddDate(0, 6, 0), 1.02
	for _, c := range []home.Calibration{first, second, first} {
		if err := db.Calibrate(t.Context(), c); err != nil {
			t.Fatal(err)
		}
	}
	for _, source := range []string{"box-1", ""} {
		got, err := db.Calibrations(t.Context(), source)
		if err != nil || !reflect.DeepEqual(got, []home.Calibration{first, second}) {
			t.Errorf("of %q: %+v, %v", source, got, err)
		}
	}
	if got, err := db.Calibrations(t.Context(), "box-2"); err != nil || len(got) != 0 {
		t.Errorf("of another source: %+v, %v", got, err)
	}
	entries, err := db.Journal(t.Context(), 0, 10)
	if err != nil || len(entries) != 2 || entries[0].Matter != home.OfCalibration || entries[0].Source != "box-1" {
		t.Errorf("journal %+v, %v", entries, err)
	}
	bad := calibration()
	bad.Gain = 0
	if err := db.Calibrate(t.Context(), bad); err == nil || home.Hint(err) == "" {
		t.Errorf("a gain of nothing: %v", err)
	}
}
