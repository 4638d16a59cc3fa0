package stat

import (
	"fmt"
	"math"
	"testing"
)

// TestLag1_StRD checks mean and lag-one autocorrelation against the certified
// values of NIST StRD, univariate (nist_strd_univariate.json).
func TestLag1_StRD(t *testing.T) {
	var file struct {
		Data    map[string]any
		Results map[string]struct {
			Mean float64 `json:"certified_mean,string"`
			R1   float64 `json:"certified_r1,string"`
		}
	}
	readJSON(t, "nist_strd_univariate.json", &file)
	checked := 0
	for name, data := range file.Data {
		x := strd(t, data)
		want := file.Results[name]
		near(t, name+" mean", average(x), want.Mean, 1e-14*math.Abs(want.Mean))
		near(t, name+" lag 1", Lag1(x), want.R1, 1e-7)
		checked++
	}
	if checked < 7 {
		t.Fatalf("only %d data sets", checked)
	}
}

// strd returns the values of a data set of the file: a list, or words as
// "1.2 then 500x(1.1,1.3)".
func strd(t *testing.T, data any) []float64 {
	t.Helper()
	if list, ok := data.([]any); ok {
		x := make([]float64, len(list))
		for i, v := range list {
			x[i] = v.(float64)
		}
		return x
	}
	var first, b, c float64
	if _, err := fmt.Sscanf(data.(string), "%f then 500x(%f,%f)", &first, &b, &c); err != nil {
		t.Fatal(err)
	}
	x := []float64{first}
	for range 500 {
		x = append(x, b, c)
	}
	return x
}

// TestEffectiveN_Exact checks against the exact variance of the mean of a
// first-order autoregression (ar1_effective_n.json, recomputed with numpy).
func TestEffectiveN_Exact(t *testing.T) {
	var file struct {
		Rows []struct {
			N     int
			Rho   float64
			Exact float64
		} `json:"n_eff"`
	}
	readJSON(t, "ar1_effective_n.json", &file)
	if len(file.Rows) < 20 {
		t.Fatalf("only %d rows", len(file.Rows))
	}
	for _, r := range file.Rows {
		near(t, "effective n", EffectiveN(r.N, r.Rho), r.Exact, 1e-9*r.Exact)
	}
}

func TestEffectiveN_Edges(t *testing.T) {
	// nothing is worth nothing
	near(t, "n 0", EffectiveN(0, 0.5), 0, 0)
	// one value is one value, whatever the correlation
	near(t, "n 1", EffectiveN(1, 0.9), 1, 1e-12)
	// an unknown correlation counts as none
	near(t, "rho NaN", EffectiveN(30, math.NaN()), 30, 1e-12)
	// a correlation of one stays finite
	if v := EffectiveN(30, 1); !(v > 0.9 && v < 1.2) {
		t.Errorf("rho 1: %v", v)
	}
}

// TestLag1_Gap proves that a missing value breaks the chain and adds nothing.
func TestLag1_Gap(t *testing.T) {
	nan := math.NaN()
	// mean 0, squares 4, products over the two unbroken neighbours -1 and -1
	near(t, "gap", Lag1([]float64{1, -1, nan, 1, -1}), -0.5, 1e-15)
}
