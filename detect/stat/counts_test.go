package stat

import (
	"math"
	"testing"
)

// TestGarwood_Tables checks n = 0 to 30 against poisson_garwood.csv (Garwood
// 1936; Pearson & Hartley table 40; R 4.2.2).
func TestGarwood_Tables(t *testing.T) {
	for _, r := range readCSV(t, "poisson_garwood.csv") {
		n := int(r["n"])
		for _, c := range []struct {
			confidence float64
			lo, hi     string
		}{{0.9, "lo90", "hi90"}, {0.95, "lo95", "hi95"}, {0.99, "lo99", "hi99"}} {
			lo, hi := Garwood(n, c.confidence)
			near(t, c.lo, lo, r[c.lo], 1e-7)
			near(t, c.hi, hi, r[c.hi], 1e-7)
		}
		lo, hi := MidP(n, 0.95)
		near(t, "mid-P lower", lo, r["midp_lo95"], 1e-7)
		near(t, "mid-P upper", hi, r["midp_hi95"], 1e-7)
	}
}

// TestCompareRates_Gu is Gu, Ng, Tang & Schucany 2008, examples 1 and 2 (the
// exact and the mid-P test), and others of poisson_rates.json (R and scipy).
func TestCompareRates_Gu(t *testing.T) {
	one := CompareRates(60, 51477.5, 30, 54308.7, 1)
	near(t, "example 1 exact", one.Exact, .000428, 5e-7)
	near(t, "example 1 mid-P", one.MidP, .000310, 5e-7)
	two := CompareRates(41, 28010, 15, 19017, 1.5)
	near(t, "example 2 exact", two.Exact, .2913, 2e-4)
	near(t, "example 2 mid-P", two.MidP, .2450, 2e-4)

	var file struct {
		Rows []struct {
			C1    int     `json:"count1"`
			T1    float64 `json:"exposure1"`
			C2    int     `json:"count2"`
			T2    float64 `json:"exposure2"`
			Null  float64 `json:"ratio_null"`
			Ratio float64
			Exact float64 `json:"p_exact_greater"`
		} `json:"two_rates"`
	}
	readJSON(t, "poisson_rates.json", &file)
	if len(file.Rows) < 5 {
		t.Fatalf("only %d rows", len(file.Rows))
	}
	for _, r := range file.Rows {
		got := CompareRates(r.C1, r.T1, r.C2, r.T2, r.Null)
		near(t, "ratio", got.Ratio, r.Ratio, 1e-12*(1+r.Ratio))
		near(t, "exact p", got.Exact, r.Exact, 1e-10)
	}
}

// TestDispersion_Published checks poisson_rates.json: the Prussian horse kicks
// (von Bortkiewicz 1898), which are Poisson, the red mites of Bliss & Fisher
// 1953, which are not, and a small constructed sample.
func TestDispersion_Published(t *testing.T) {
	var file struct {
		Dispersion struct {
			Horse struct {
				Counts    map[string]int
				D         float64
				P         float64 `json:"p_upper"`
				Mean, Var float64
			} `json:"horse_kicks"`
			Mites struct {
				Counts    map[string]int
				Mean, Var float64
			} `json:"red_mites"`
			Small struct {
				X   []int
				Phi float64
				P   float64 `json:"p_upper"`
			}
		}
	}
	readJSON(t, "poisson_rates.json", &file)
	d := file.Dispersion
	phi, p := Dispersion(spread(d.Horse.Counts))
	near(t, "horse kicks phi", phi, d.Horse.Var/d.Horse.Mean, 1e-9)
	near(t, "horse kicks p", p, d.Horse.P, 1e-8)
	phi, p = Dispersion(spread(d.Mites.Counts))
	near(t, "mites phi", phi, d.Mites.Var/d.Mites.Mean, 1e-8)
	if p > 1e-9 {
		t.Errorf("mites: p %v, want next to nothing", p)
	}
	phi, p = Dispersion(d.Small.X)
	near(t, "small phi", phi, d.Small.Phi, 1e-8)
	near(t, "small p", p, d.Small.P, 1e-9)
}

// spread turns a table of how often each count came into the counts.
func spread(table map[string]int) []int {
	var out []int
	for word, times := range table {
		for range times {
			out = append(out, int(word[0]-'0'))
		}
	}
	return out
}

// TestRateOfCount_Fact7: one miscounted breath moves the rate by 4, 2 or 1 a
// minute in 15, 30 and 60 s, and a true 30 a minute in 15 s shows 28 or 32.
func TestRateOfCount_Fact7(t *testing.T) {
	for seconds, step := range map[float64]float64{15: 4, 30: 2, 60: 1} {
		a, b := RateOfCount(8, seconds, 0), RateOfCount(9, seconds, 0)
		near(t, "step", b.PerMinute-a.PerMinute, step, 1e-12)
		near(t, "uncertainty", a.SD, step/math.Sqrt(6), 1e-12)
	}
	for _, count := range []int{7, 8} {
		if r := RateOfCount(count, 15, 0); r.Lo >= 30 || r.Hi <= 30 {
			t.Errorf("%d in 15 s: %v to %v leaves out 30", count, r.Lo, r.Hi)
		}
	}
	if r := RateOfCount(6, 15, 0); r.Hi > 28 {
		t.Errorf("6 in 15 s may be %v", r.Hi)
	}
	// one miscounted breath either way
	r := RateOfCount(10, 30, 1)
	near(t, "lo", r.Lo, 16, 0)
	near(t, "hi", r.Hi, 24, 0)
	near(t, "uncertainty with a miscount", r.SD, 2*math.Sqrt(1.0/6+2.0/3), 1e-12)
}

func TestCounts_OutOfRange(t *testing.T) {
	if _, hi := Garwood(-1, 0.9); !math.IsNaN(hi) {
		t.Errorf("negative count: %v", hi)
	}
	if _, hi := MidP(3, 1); !math.IsNaN(hi) {
		t.Errorf("confidence 1: %v", hi)
	}
	if r := CompareRates(1, 0, 1, 1, 1); r.Exact != 1 || r.MidP != 1 {
		t.Errorf("no exposure: %+v", r)
	}
	if r := CompareRates(0, 1, 0, 1, 1); r.Exact != 1 || r.MidP != 1 {
		t.Errorf("no events: %+v", r)
	}
	if phi, p := Dispersion([]int{4}); !math.IsNaN(phi) || p != 1 {
		t.Errorf("one count: %v %v", phi, p)
	}
	if r := RateOfCount(5, 0, 0); !math.IsNaN(r.PerMinute) {
		t.Errorf("no window: %+v", r)
	}
}
