package stat

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Garwood is the exact central interval for the mean of a Poisson count of n
// (Garwood 1936), with the stated confidence, as 0.9. It covers at least that.
// NaN for a negative n or a confidence not between 0 and 1.
func Garwood(n int, confidence float64) (lo, hi float64) {
	if n < 0 || !(confidence > 0 && confidence < 1) {
		return math.NaN(), math.NaN()
	}
	tail := (1 - confidence) / 2
	if n > 0 {
		lo = distuv.ChiSquared{K: 2 * float64(n)}.Quantile(tail) / 2
	}
	return lo, distuv.ChiSquared{K: 2*float64(n) + 2}.Quantile(1-tail) / 2
}

// MidP is [Garwood] with half of the probability of n itself counted as beyond
// it: closer to the stated confidence on average, at times a little under.
func MidP(n int, confidence float64) (lo, hi float64) {
	lo, hi = Garwood(n, confidence)
	if math.IsNaN(hi) {
		return lo, hi
	}
	tail := (1 - confidence) / 2
	// Each mid-P limit lies inside the exact one.
	if n > 0 {
		lo = bisect(lo, float64(n), func(m float64) bool {
			p := distuv.Poisson{Lambda: m}
			return 1-p.CDF(float64(n))+0.5*p.Prob(float64(n)) < tail
		})
	}
	hi = bisect(float64(n), hi, func(m float64) bool {
		if m == 0 {
			return true
		}
		p := distuv.Poisson{Lambda: m}
		return p.CDF(float64(n))-0.5*p.Prob(float64(n)) > tail
	})
	return lo, hi
}

// bisect is the point between lo and hi up to which below holds.
func bisect(lo, hi float64, below func(float64) bool) float64 {
	for range 200 {
		mid := lo + (hi-lo)/2
		if mid == lo || mid == hi {
			break
		}
		if below(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo + (hi-lo)/2
}

// Dispersion compares the spread of counts with what chance alone gives: phi is
// their variance over their mean, 1 for Poisson counts, and p the probability of
// as large a phi or a larger one from chance (index of dispersion, Fisher 1925).
// phi is NaN and p 1 for fewer than two counts or none over zero.
func Dispersion(counts []int) (phi, p float64) {
	n := float64(len(counts))
	sum := 0.0
	for _, c := range counts {
		sum += float64(c)
	}
	if n < 2 || sum <= 0 {
		return math.NaN(), 1
	}
	mean, squares := sum/n, 0.0
	for _, c := range counts {
		squares += (float64(c) - mean) * (float64(c) - mean)
	}
	return squares / (n - 1) / mean, distuv.ChiSquared{K: n - 1}.Survival(squares / mean)
}

// RateTest is a comparison of two Poisson rates.
type RateTest struct {
	Ratio float64 // of the first rate to the second, +Inf where only the second count is 0
	Exact float64 // probability of as large a first count or a larger one, were the ratio the null one
	MidP  float64 // the same with half of the probability of the count itself
}

// CompareRates asks whether count1 in the exposure t1 shows a rate more than
// null times that of count2 in t2. Given the total, the first count is binomial,
// so the test is exact (Przyborowski & Wilenski 1940; Gu et al. 2008). With a
// count or exposure that cannot be, Ratio is NaN and both p are 1.
func CompareRates(count1 int, t1 float64, count2 int, t2, null float64) RateTest {
	if count1 < 0 || count2 < 0 || !(t1 > 0 && t2 > 0 && null > 0) || !isFinite(t1+t2+null) {
		return RateTest{Ratio: math.NaN(), Exact: 1, MidP: 1}
	}
	test := RateTest{Ratio: float64(count1) / t1 / (float64(count2) / t2)}
	total := float64(count1 + count2)
	if total == 0 {
		return RateTest{Ratio: math.NaN(), Exact: 1, MidP: 1}
	}
	b := distuv.Binomial{N: total, P: null * t1 / (null*t1 + t2)}
	test.Exact = 1
	if count1 > 0 {
		test.Exact = b.Survival(float64(count1) - 1)
	}
	test.MidP = test.Exact - 0.5*b.Prob(float64(count1))
	return test
}

// CountedRate is what a count over a window says of a steady rhythm.
type CountedRate struct {
	PerMinute float64
	SD        float64 // standard uncertainty from counting alone, a minute
	Lo, Hi    float64 // no rate outside them gives the count with at most the stated miscount
}

// RateOfCount is the rate behind count events of a steady rhythm in seconds,
// miscounted by at most miscount. A breath is much more regular than chance, so
// this is no Poisson count: of x true cycles, a window that begins at any moment
// shows the whole number under or over x. The count less the truth is then
// triangular on -1 to 1, with variance 1/6, and a miscount of one either way in
// a third of counts each adds 2/3. NaN where count or seconds cannot be.
func RateOfCount(count int, seconds float64, miscount int) CountedRate {
	if count < 0 || miscount < 0 || !(seconds > 0) || !isFinite(seconds) {
		nan := math.NaN()
		return CountedRate{nan, nan, nan, nan}
	}
	perEvent := 60 / seconds
	// A miscount even over -m..m has variance m(m+1)/3.
	m := float64(miscount)
	return CountedRate{
		PerMinute: float64(count) * perEvent,
		SD:        perEvent * math.Sqrt(1.0/6+m*(m+1)/3),
		Lo:        perEvent * max(0, float64(count-1-miscount)),
		Hi:        perEvent * float64(count+1+miscount),
	}
}
