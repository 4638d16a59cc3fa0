package stat

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestRobust_Published checks location and scale against R 4.2.2 with
// robustbase 0.95-0 and MASS 7.3-58.2 (robust_scale.json names each data set).
func TestRobust_Published(t *testing.T) {
	var file struct {
		Data map[string]struct {
			X      []float64
			Median float64
			MAD    float64 `json:"mad_1.4826"`
			Sn     float64
			Qn     float64
			HL     float64 `json:"hodges_lehmann_1sample"`
		}
	}
	readJSON(t, "robust_scale.json", &file)
	if len(file.Data) < 10 {
		t.Fatalf("only %d data sets", len(file.Data))
	}
	for name, d := range file.Data {
		near(t, name+" median", Median(d.X), d.Median, 1e-9)
		near(t, name+" MAD", MAD(d.X), d.MAD, 1e-9)
		near(t, name+" Sn", Sn(d.X), d.Sn, 1e-8)
		near(t, name+" Qn", Qn(d.X), d.Qn, 1e-8)
		near(t, name+" Hodges-Lehmann", HodgesLehmann(d.X), d.HL, 1e-9)
	}
}

// TestMAD_ModifiedZ is NIST/SEMATECH e-Handbook 1.3.5.17.1: of the uranium
// readings only 245.57 is an outlier, with a modified z of 29.9627; a plain z
// over 3 cannot happen among eight values.
func TestMAD_ModifiedZ(t *testing.T) {
	x := []float64{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57}
	want := []float64{-1.3965, -1.2473, -0.7999, -0.3728, 0.3728, 0.3932, 0.5491, 29.9627}
	raw := MAD(x) / madScale
	for i, v := range x {
		near(t, "modified z", 0.6745*(v-Median(x))/raw, want[i], 6e-5)
	}
}

func TestWeightedMedian(t *testing.T) {
	nan := math.NaN()
	rows := []struct {
		x, w []float64
		want float64
	}{
		// equal weights give the plain median
		{[]float64{3, 1, 2}, []float64{1, 1, 1}, 2},
		{[]float64{4, 1, 2, 3}, []float64{1, 1, 1, 1}, 2.5},
		// a weight of more than half decides alone
		{[]float64{1, 2, 100}, []float64{1, 1, 5}, 100},
		// Cormen et al., Introduction to Algorithms, problem 9-2: weights equal to the values give 0.2 (from memory)
		{[]float64{0.1, 0.35, 0.05, 0.1, 0.15, 0.05, 0.2}, []float64{0.1, 0.35, 0.05, 0.1, 0.15, 0.05, 0.2}, 0.2},
		// what is missing on either side is left out as a pair
		{[]float64{nan, 5, 6}, []float64{9, 1, nan}, 5},
		// nothing left
		{[]float64{1}, []float64{0}, nan},
	}
	for _, r := range rows {
		got := WeightedMedian(r.x, r.w)
		if got != r.want && !(math.IsNaN(got) && math.IsNaN(r.want)) {
			t.Errorf("WeightedMedian(%v, %v) = %v, want %v", r.x, r.w, got, r.want)
		}
	}
}

// TestRobust_NothingLeft proves the policy of the package: no value, no figure.
func TestRobust_NothingLeft(t *testing.T) {
	for _, x := range [][]float64{nil, {math.NaN()}, {math.Inf(1), math.NaN()}} {
		for name, f := range map[string]func([]float64) float64{
			"Median": Median, "MAD": MAD, "Qn": Qn, "Sn": Sn, "HodgesLehmann": HodgesLehmann, "Lag1": Lag1,
		} {
			if got := f(x); !math.IsNaN(got) {
				t.Errorf("%s(%v) = %v, want NaN", name, x, got)
			}
		}
	}
}

// TestRobust_Equivariance: moving and stretching a sample moves and stretches
// its location and stretches its scale; the sample itself is never changed, and
// missing values change nothing.
func TestRobust_Equivariance(t *testing.T) {
	locations := map[string]func([]float64) float64{"Median": Median, "HodgesLehmann": HodgesLehmann}
	scales := map[string]func([]float64) float64{"MAD": MAD, "Qn": Qn, "Sn": Sn}
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-100, 100), 2, 40).Draw(t, "x")
		a, b := rapid.Float64Range(-50, 50).Draw(t, "a"), rapid.Float64Range(0.1, 10).Draw(t, "b")
		y := make([]float64, 0, len(x)+1)
		y = append(y, math.NaN())
		for _, v := range x {
			y = append(y, a+b*v)
		}
		before := slices.Clone(x)
		for name, f := range locations {
			if got, want := f(y), a+b*f(x); math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
				t.Fatalf("%s moved to %v, want %v", name, got, want)
			}
		}
		for name, f := range scales {
			if got, want := f(y), b*f(x); math.Abs(got-want) > 1e-8*(1+want) {
				t.Fatalf("%s stretched to %v, want %v", name, got, want)
			}
		}
		if !slices.Equal(x, before) {
			t.Fatal("the sample was changed")
		}
	})
}

// TestNth_AgreesWithSorting: with ties, ordered, reversed and single values, at every
// place, and with nothing lost of what was put in another order.
func TestNth_AgreesWithSorting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.IntRange(0, 20), 1, 60).Draw(t, "x")
		k := rapid.IntRange(0, len(x)-1).Draw(t, "k")
		want := slices.Sorted(slices.Values(x))
		if got := Nth(x, k); got != want[k] {
			t.Fatalf("%d at %d, want %d", got, k, want[k])
		}
		if !slices.Equal(slices.Sorted(slices.Values(x)), want) {
			t.Fatalf("lost some: %v of %v", x, want)
		}
	})
}

// TestMiddle_IsTheMedian: of an odd and an even number of values, and of none.
func TestMiddle_IsTheMedian(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-5, 5), 1, 40).Draw(t, "x")
		want := Median(x)
		if got := Middle(x); got != want {
			t.Fatalf("%v, want %v", got, want)
		}
	})
	if !math.IsNaN(Middle(nil)) {
		t.Error("the middle of nothing")
	}
}
