package stat

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Variances of the Nile as Durbin and Koopman (2012, section 2.2) print them.
const nileNoise, nileDrift = 15099, 1469.1

var one = Vec{1}

func unknownLevel() Kalman {
	k := Kalman{}
	k.Append(0, 0)
	k.Diffuse(0)
	return k
}

// TestKalman_Observe_Nile holds every figure of the filter on the Nile to R and
// statsmodels, and the log-likelihood to the exact diffuse one over t = 2..100
// (KFAS, Durbin and Koopman): -632.5456.
func TestKalman_Observe_Nile(t *testing.T) {
	k := unknownLevel()
	loglik := 0.0
	for i, row := range readCSV(t, "nile_local_level.csv") {
		if i > 0 {
			k.Scale(&one, &Vec{nileDrift})
			near(t, "predicted level", k.X[0], row["a_pred"], 1e-6)
			near(t, "predicted variance", k.P[0][0], row["P_pred"], 1e-5)
		}
		inn := k.Observe(&one, row["y"], nileNoise)
		loglik += inn.LogLik()
		if i > 0 {
			near(t, "innovation", inn.V, row["innov"], 1e-6)
			near(t, "innovation variance", inn.F, row["F"], 1e-5)
		}
		near(t, fmt.Sprint(row["year"], " filtered level"), k.X[0], row["a_filt"], 1e-6)
		near(t, "filtered variance", k.P[0][0], row["P_filt"], 1e-5)
	}
	near(t, "log-likelihood", loglik, -632.545625116, 1e-8)
}

// TestSmoothLevel_Nile holds the smoother to the published states, whole and with
// the two blocks of missing years of Durbin and Koopman (2012, figure 2.5).
func TestSmoothLevel_Nile(t *testing.T) {
	rows := readCSV(t, "nile_local_level.csv")
	missing := readCSV(t, "nile_missing.csv")
	var whole, gaps []Day
	for i, row := range rows {
		d := Day{Time: row["year"], Value: row["y"], Variance: nileNoise, Wander: Wander{Drift: math.Sqrt(nileDrift)}}
		whole = append(whole, d)
		if i >= 20 && i < 40 || i >= 60 && i < 80 {
			d.Value = math.NaN()
		}
		gaps = append(gaps, d)
	}
	for i, s := range SmoothLevel(whole) {
		near(t, "smoothed level", s.Level, rows[i]["a_smooth"], 1e-6)
		near(t, "smoothed variance", s.Variance, rows[i]["V_smooth"], 1e-4)
	}
	for i, s := range SmoothLevel(gaps) {
		near(t, fmt.Sprint(rows[i]["year"], " smoothed over gaps"), s.Level, missing[i]["a_smooth"], 1e-6)
		near(t, "smoothed variance over gaps", s.Variance, missing[i]["V_smooth"], 1e-4)
	}
	if SmoothLevel(nil) != nil {
		t.Error("no days gave states")
	}
}

type unequal struct {
	Y, R    []float64
	Results map[string]struct {
		Loglik        float64
		Filtered      []float64
		FilteredVar   []float64 `json:"filtered_var"`
		Smoothed      []float64
		SmoothedVar   []float64    `json:"smoothed_var"`
		FilteredLevel []float64    `json:"filtered_level"`
		FilteredSlope []float64    `json:"filtered_slope"`
		CovLast       [][2]float64 `json:"filtered_cov_last"`
	}
}

// halfLog2Pi is what statsmodels adds, negative, for each diffuse first point.
var halfLog2Pi = 0.5 * math.Log(2*math.Pi)

// TestKalman_Observe_UnequalVariance holds a local level whose observations have
// different variances to statsmodels, q = 0 being the running inverse-variance mean.
func TestKalman_Observe_UnequalVariance(t *testing.T) {
	var ref unequal
	readJSON(t, "kalman_unequal_variance.json", &ref)
	for name, q := range map[string]float64{"local_level_q=0": 0, "local_level_q=0.3": 0.3} {
		want := ref.Results[name]
		k := unknownLevel()
		loglik := 0.0
		var days []Day
		for i, y := range ref.Y {
			if i > 0 {
				k.Scale(&one, &Vec{q})
			}
			inn := k.Observe(&one, y, ref.R[i])
			loglik += inn.LogLik()
			near(t, name, k.X[0], want.Filtered[i], 1e-9)
			near(t, name+" variance", k.P[0][0], want.FilteredVar[i], 1e-9)
			days = append(days, Day{Time: float64(i), Value: y, Variance: ref.R[i], Wander: Wander{Drift: math.Sqrt(q)}})
		}
		near(t, name+" log-likelihood", loglik-halfLog2Pi, want.Loglik, 1e-9)
		for i, s := range SmoothLevel(days) {
			near(t, name+" smoothed", s.Level, want.Smoothed[i], 1e-9)
			near(t, name+" smoothed variance", s.Variance, want.SmoothedVar[i], 1e-9)
		}
	}
}

// TestKalman_Shear_Trend holds a level with a slope, both unknown at first, to
// statsmodels; with no drift it is the weighted least-squares line.
func TestKalman_Shear_Trend(t *testing.T) {
	var ref unequal
	readJSON(t, "kalman_unequal_variance.json", &ref)
	for name, q := range map[string]Vec{"local_linear_trend_ql=0_qt=0": {}, "local_linear_trend_ql=0.05_qt=0.01": {0.05, 0.01}} {
		want := ref.Results[name]
		k := unknownLevel()
		k.Append(0, 0)
		k.Diffuse(1)
		loglik := 0.0
		for i, y := range ref.Y {
			if i > 0 {
				k.Shear(0, 1, 1)
				k.Scale(&Vec{1, 1}, &q)
			}
			inn := k.Observe(&one, y, ref.R[i])
			loglik += inn.LogLik()
			near(t, name+" level", k.X[0], want.FilteredLevel[i], 1e-8)
			near(t, name+" slope", k.X[1], want.FilteredSlope[i], 1e-8)
		}
		near(t, name+" log-likelihood", loglik-2*halfLog2Pi, want.Loglik, 1e-8)
		for i := range 2 {
			for j := range 2 {
				near(t, name+" covariance", k.P[i][j], want.CovLast[i][j], 1e-8)
			}
		}
	}
}

// TestKalman_Predict_Diffuse proves that an unknown state predicts with infinite
// variance until it is seen, and that such an observation has no likelihood.
func TestKalman_Predict_Diffuse(t *testing.T) {
	k := unknownLevel()
	if _, v := k.Predict(&one); !math.IsInf(v, 1) {
		t.Errorf("variance %v of an unknown level, want +Inf", v)
	}
	if inn := k.Observe(&one, 7, 2); !math.IsInf(inn.F, 1) || inn.LogLik() != 0 {
		t.Errorf("first innovation %+v, want one without likelihood", inn)
	}
	if m, v := k.Predict(&one); m != 7 || v != 2 {
		t.Errorf("level %v, variance %v, want what was seen: 7 and 2", m, v)
	}
}

// TestKalman_Observe_Order proves that observations of one moment may come in any
// order: the state afterwards is the same.
func TestKalman_Observe_Order(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfN(rapid.Float64Range(-5, 5), 4, 4).Draw(t, "y")
		r := rapid.SliceOfN(rapid.Float64Range(0.1, 9), 4, 4).Draw(t, "r")
		run := func(order []int) Kalman {
			k := unknownLevel()
			k.Append(0, 0.5)
			k.Append(0, 2)
			h := []Vec{{1, 1, 0}, {1, 1, 1}, {1, 1, 0}, {1, 1, 1}}
			for _, i := range order {
				k.Observe(&h[i], y[i], r[i])
			}
			return k
		}
		a, b := run([]int{0, 1, 2, 3}), run([]int{3, 1, 0, 2})
		for i := range 3 {
			if math.Abs(a.X[i]-b.X[i]) > 1e-8 || math.Abs(a.P[i][i]-b.P[i][i]) > 1e-8 {
				t.Fatalf("state %d: %v (%v) and %v (%v)", i, a.X[i], a.P[i][i], b.X[i], b.P[i][i])
			}
		}
	})
}

// TestSmoothLevel_MissingStart proves that days before the first that was observed
// are as unsure as the drift from them to it makes them, and change no other.
func TestSmoothLevel_MissingStart(t *testing.T) {
	w := Wander{SD: 0.7, Phi: 0.6, Drift: 0.2}
	days := []Day{{5, 1, 0.5, w}, {6, 1.5, 0.4, w}, {9, 0.2, 0.9, w}}
	plain := SmoothLevel(days)
	missing := []Day{{1, math.NaN(), 1, w}, {3, math.NaN(), 1, w}}
	got := SmoothLevel(append(missing, days...))
	for i, days := range []float64{4, 2, 0} {
		near(t, "level", got[i].Level, plain[0].Level, 1e-12)
		near(t, "variance", got[i].Variance, plain[0].Variance+days*w.Drift*w.Drift, 1e-12)
	}
	near(t, "last level", got[4].Level, plain[2].Level, 1e-12)
}
