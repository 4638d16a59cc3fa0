package stat

import (
	"math"
	"testing"
)

// TestCUSUM_NIST is NIST/SEMATECH e-Handbook 6.3.2.3: exact sums, the printed
// ones within their rounding, and signals at groups 14 to 20 only.
func TestCUSUM_NIST(t *testing.T) {
	rows := readCSV(t, "nist_cusum_6.3.2.3.csv")
	points := CUSUM(column(rows, "x"), 325, 0.3175, 4.1959)
	for i, p := range points {
		near(t, "high", p.High, rows[i]["s_hi"], 1e-9)
		near(t, "low", p.Low, rows[i]["s_lo"], 1e-9)
		near(t, "high as printed", p.High, rows[i]["s_hi_printed"], 0.00501)
		if p.Signal != (i+1 >= 14) {
			t.Errorf("group %d: signal %v", i+1, p.Signal)
		}
	}
}

// TestEWMA_NIST is NIST/SEMATECH e-Handbook 6.3.2.4: the 20 averages, and the
// limits 52.5884 and 47.4115, which NIST computes with a rounded root.
func TestEWMA_NIST(t *testing.T) {
	rows := readCSV(t, "nist_ewma_6.3.2.4.csv")[1:]
	z := EWMA(column(rows, "x"), 50, 0.3)
	for i, row := range rows {
		near(t, "average", z[i], row["ewma_exact"], 1e-9)
		near(t, "average as printed", z[i], row["ewma_printed_2dp"], 0.00501)
		near(t, "limit at t", 50+EWMALimits(2.0539, 0.3, 3, i+1), row["ucl_t"], 1e-8)
	}
	near(t, "upper limit", 50+EWMALimits(2.0539, 0.3, 3, 0), 52.5884, 1.5e-4)
	near(t, "lower limit", 50-EWMALimits(2.0539, 0.3, 3, 0), 47.4115, 1.5e-4)
}

// TestCharts_ExactPath follows both charts step by step in exact rationals
// (chart_paths.json, constructed).
func TestCharts_ExactPath(t *testing.T) {
	var file struct {
		X     []float64
		CUSUM []struct{ Hi, Lo float64 } `json:"cusum_k0_5"`
		EWMA  []float64                  `json:"ewma_lambda0_2"`
	}
	readJSON(t, "chart_paths.json", &file)
	points, z := CUSUM(file.X, 0, 0.5, 4), EWMA(file.X, 0, 0.2)
	for i := range file.X {
		near(t, "high", points[i].High, file.CUSUM[i].Hi, 1e-12)
		near(t, "low", points[i].Low, file.CUSUM[i].Lo, 1e-12)
		near(t, "average", z[i], file.EWMA[i], 1e-12)
	}
}

// TestCharts_Missing proves that a missing value changes neither chart.
func TestCharts_Missing(t *testing.T) {
	with, without := []float64{1, math.NaN(), 2}, []float64{1, 2}
	a, b := CUSUM(with, 0, 0.1, 9), CUSUM(without, 0, 0.1, 9)
	near(t, "sum", a[2].High, b[1].High, 0)
	near(t, "average", EWMA(with, 0, 0.5)[2], EWMA(without, 0, 0.5)[1], 0)
}

// TestCUSUMARL_Tables checks the run lengths in cusum_arl.csv (integral equation
// of R spc 0.6.7; the file names its published anchors).
func TestCUSUMARL_Tables(t *testing.T) {
	for _, r := range readCSV(t, "cusum_arl.csv") {
		if r["one_IE"] > 1e6 || math.IsNaN(r["one_IE"]) {
			continue // longer than any budget asks for
		}
		near(t, "one side", CUSUMARL(r["k"], r["h"], r["mu"]), r["one_IE"], 2e-5*r["one_IE"])
	}
}

// TestCUSUMARL_Published checks against print: Lucas & Crosier 1982 table 1,
// two sides, k = 0.5, h = 4; Brook & Evans 1972, one side, k = 0.5, h = 3.
func TestCUSUMARL_Published(t *testing.T) {
	want := map[float64]float64{0: 168, 0.25: 74.2, 0.5: 26.6, 0.75: 13.3, 1: 8.38, 1.5: 4.75, 2: 3.34, 2.5: 2.62, 3: 2.19, 4: 1.71, 5: 1.31}
	for mu, arl := range want {
		near(t, "Lucas & Crosier", CUSUMARLTwoSided(0.5, 4, mu), arl, 0.0051*max(1, arl/2))
	}
	near(t, "Brook & Evans, no shift", CUSUMARL(0.5, 3, 0), 117.59, 0.01)
	near(t, "Brook & Evans, shift 1.5", CUSUMARL(0.5, 3, 1.5), 3.75, 0.005)
}

// TestCUSUMLimit_Inverse checks limits for a wanted run length against R spc
// 0.6.7 (xcusum.crit).
func TestCUSUMLimit_Inverse(t *testing.T) {
	for _, r := range []struct{ k, arl0, h float64 }{
		{0.25, 100, 4.4182}, {0.5, 100, 2.8494}, {1, 100, 1.5316},
		{0.25, 370.4, 6.7096}, {0.5, 370.4, 4.0965}, {1, 370.4, 2.1760},
		{0.5, 2 * 370.4, 4.7749}, // both sides
		{0.5, 10000, 7.3608}, {0.25, 10000, 13.1113},
	} {
		near(t, "limit", CUSUMLimit(r.k, r.arl0), r.h, 1e-4)
	}
}

// TestEWMAARL_Tables checks ewma_arl.csv (R spc 0.6.7; anchored in Lucas &
// Saccucci 1990 table 3, Crowder 1987 table 1 and the SAS/QC manual).
func TestEWMAARL_Tables(t *testing.T) {
	for _, r := range readCSV(t, "ewma_arl.csv") {
		near(t, "run length", EWMAARL(r["lambda"], r["L"], r["mu"]), r["ARL_fixed_IE"], 2e-4*r["ARL_fixed_IE"])
	}
	// SAS/QC manual: lambda 0.25, L 3, shift 1
	near(t, "SAS/QC", EWMAARL(0.25, 3, 1), 11.154267016, 1e-4)
}

// TestEWMALimit_Crowder is Crowder 1989: L for a run length of 250.
func TestEWMALimit_Crowder(t *testing.T) {
	for lambda, l := range map[float64]float64{0.05: 2.3179, 0.1: 2.5462, 0.15: 2.6541, 0.2: 2.7186, 0.25: 2.7613} {
		near(t, "limit", EWMALimit(lambda, 250), l, 2e-4)
	}
}

func TestARL_OutOfRange(t *testing.T) {
	for name, v := range map[string]float64{
		"no limit": CUSUMARL(0.5, 0, 0), "limit NaN": CUSUMARL(0.5, math.NaN(), 0),
		"lambda 0": EWMAARL(0, 3, 0), "run length 1": CUSUMLimit(0.5, 1), "run length NaN": EWMALimit(0.1, math.NaN()),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s: got %v, want NaN", name, v)
		}
	}
}
