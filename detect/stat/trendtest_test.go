package stat

import (
	"math"
	"testing"
)

// TestTrend_Published checks slope, interval, intercept and Mann-Kendall with
// ties against trend_tests.json (R 4.2.2; formulas of Gilbert 1987; the interval
// and intercept as scipy has them).
func TestTrend_Published(t *testing.T) {
	var file struct {
		Sets map[string]struct {
			X, Y      []float64
			S         float64
			VarS      float64 `json:"var_S"`
			Z         float64
			P         float64   `json:"p_two_sided_normal"`
			Slope     float64   `json:"sen_slope"`
			Intercept float64   `json:"intercept_median_median"`
			CI        []float64 `json:"ci95_rounded_ranks"`
		} `json:"mann_kendall_sen"`
	}
	readJSON(t, "trend_tests.json", &file)
	if len(file.Sets) < 7 {
		t.Fatalf("only %d data sets", len(file.Sets))
	}
	for name, d := range file.Sets {
		mk := MannKendall(d.Y)
		near(t, name+" S", mk.S, d.S, 0)
		near(t, name+" variance", mk.Variance, d.VarS, 1e-8*d.VarS)
		near(t, name+" Z", mk.Z, d.Z, 1e-9)
		near(t, name+" p", mk.P, d.P, 1e-9)
		line := TheilSen(d.X, d.Y, 0.95)
		scale := 1 + math.Abs(d.Slope)
		near(t, name+" slope", line.Slope, d.Slope, 1e-9*scale)
		near(t, name+" intercept", line.Intercept, d.Intercept, 1e-6*(1+math.Abs(d.Intercept)))
		near(t, name+" lower", line.Lo, d.CI[0], 1e-9*scale)
		near(t, name+" upper", line.Hi, d.CI[1], 1e-9*scale)
	}
}

// TestTheilSen_Outliers: the Belgian telephone calls (Rousseeuw & Leroy 1987),
// of which six years were written down wrong, have a Theil-Sen slope of 1.3875
// where least squares gives 5.04 (R 4.2.2, MASS::phones).
func TestTheilSen_Outliers(t *testing.T) {
	var year []float64
	for y := 50.0; y <= 73; y++ {
		year = append(year, y)
	}
	calls := []float64{4.4, 4.7, 4.7, 5.9, 6.6, 7.3, 8.1, 8.8, 10.6, 12, 13.5, 14.9, 16.1, 21.2, 119, 124, 142, 159, 182, 212, 43, 24, 27, 29}
	near(t, "slope", TheilSen(year, calls, 0.9).Slope, 1.3875, 1e-12)
}

func TestTrend_TooLittle(t *testing.T) {
	nan := math.NaN()
	for name, e := range map[string]SlopeEstimate{
		"nothing": TheilSen(nil, nil, 0.9), "one point": TheilSen([]float64{1}, []float64{1}, 0.9),
		"one time": TheilSen([]float64{1, 1, 1}, []float64{1, 2, 3}, 0.9), "missing": TheilSen([]float64{1, nan}, []float64{nan, 3}, 0.9),
	} {
		if !math.IsNaN(e.Slope) || !math.IsNaN(e.Lo) {
			t.Errorf("%s: %+v, want NaN", name, e)
		}
	}
	for _, y := range [][]float64{nil, {1, 2}, {3, 3, 3, 3}} {
		if r := MannKendall(y); r.P != 1 || r.Z != 0 {
			t.Errorf("%v: %+v, want p 1", y, r)
		}
	}
}
