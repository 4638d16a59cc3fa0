package main

import (
	"fmt"
	"io"
	"math"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

// overallJSON is a second voice on the whole series, by ranks: it knows nothing of
// changes in between, and no outlier carries it off.
type overallJSON struct {
	Slope    float64   `json:"slope"` // Theil-Sen, per unit of time
	Interval []float64 `json:"slope_interval"`
	Z        float64   `json:"z"` // Mann-Kendall
	P        float64   `json:"p"`
}

// mostRanked bounds the pairs that are looked at: they grow with the square.
const mostRanked = 3000

func (s *series) overall() *overallJSON {
	p := s.present()
	s = &p
	n := len(s.values)
	if n < 4 || n > mostRanked {
		return nil
	}
	line, test := stat.TheilSen(s.times, s.values, 0.9), stat.MannKendall(s.values)
	if math.IsNaN(line.Slope) {
		return nil
	}
	return &overallJSON{Slope: line.Slope, Interval: []float64{line.Lo, line.Hi}, Z: test.Z, P: test.P}
}

func (o *overallJSON) tell(w io.Writer, per string) {
	if o != nil {
		fmt.Fprintf(w, "Over all of it, by ranks: %.3g a %s (%.3g to %.3g); a steady trend by chance: %s.\n", o.Slope, per, o.Interval[0], o.Interval[1], chance(o.P))
	}
}

// controlJSON is how two control charts judge what came after the first samples.
type controlJSON struct {
	Baseline int     `json:"baseline"` // samples that set the target
	Target   float64 `json:"target"`
	SD       float64 `json:"sd"`         // Qn
	Other    float64 `json:"sd_other"`   // Sn, which is less moved by outliers
	RunInit  float64 `json:"run_length"` // mean samples to a false signal, of each chart
	CUSUM    chartOf `json:"cusum"`
	EWMA     chartOf `json:"ewma"`
}

// chartOf is one chart. Signal is the index of the first sample at which it
// signals, -1 for none.
type chartOf struct {
	Limit  float64 `json:"limit"` // in deviations: of the sum, or of the average's own
	Signal int     `json:"signal"`
	Shift  float64 `json:"run_length_at_one_sd"` // mean samples until a shift by one deviation signals
}

// uneven is how far apart two estimates of the deviation are where the baseline is not
// what the charts take it for: of thirty normal values, one pair in a hundred (simulated).
const (
	uneven      = 1.3
	unevenAfter = 30 // values
)

const (
	cusumSlack = 0.5 // deviations: best for a shift by one
	ewmaWeight = 0.2
)

// control charts the samples after the first n against them: a tabular CUSUM and an
// EWMA, whose limits give the stated mean run length where nothing changed (Brook &
// Evans 1972; Lucas & Crosier 1982; Crowder 1987). Both take the samples for
// independent.
func (s *series) control(n int, run float64) (*controlJSON, error) {
	const op = "chart"
	if n < 10 || n >= len(s.values) {
		return nil, home.Hinted(op, "Give a number of samples from 10 to fewer than there are.", "%d samples of %d cannot be the baseline", n, len(s.values))
	}
	if !(run >= 20 && run <= 100_000) {
		return nil, home.Hinted(op, "Give 20 to 100000 samples; 370 is common.", "a run length of %g", run)
	}
	base := s.values[:n]
	c := &controlJSON{Baseline: n, Target: stat.Median(base), SD: stat.Qn(base), Other: stat.Sn(base), RunInit: run}
	if !(c.SD > 0) {
		return nil, home.Hinted(op, "Take a baseline that scatters, or coarser steps.", "the first %d samples are all the same", n)
	}
	z := make([]float64, 0, len(s.values)-n)
	for _, v := range s.values[n:] {
		z = append(z, (v-c.Target)/c.SD)
	}
	c.CUSUM.Limit = stat.CUSUMLimit(cusumSlack, 2*run) // two sides share it
	c.CUSUM.Shift, c.CUSUM.Signal = stat.CUSUMARLTwoSided(cusumSlack, c.CUSUM.Limit, 1), -1
	for i, p := range stat.CUSUM(z, 0, cusumSlack, c.CUSUM.Limit) {
		if p.Signal {
			c.CUSUM.Signal = n + i
			break
		}
	}
	c.EWMA.Limit = stat.EWMALimit(ewmaWeight, run)
	c.EWMA.Shift, c.EWMA.Signal = stat.EWMAARL(ewmaWeight, c.EWMA.Limit, 1), -1
	width := stat.EWMALimits(1, ewmaWeight, c.EWMA.Limit, 0)
	for i, v := range stat.EWMA(z, 0, ewmaWeight) {
		if math.Abs(v) > width {
			c.EWMA.Signal = n + i
			break
		}
	}
	return c, nil
}

func (c *controlJSON) tell(w io.Writer, s *series) {
	fmt.Fprintf(w, "Against the first %d samples (%.5g, deviation %.3g), with a false signal once in %.0f samples:\n", c.Baseline, c.Target, c.SD, c.RunInit)
	if r := c.SD / c.Other; c.Baseline >= unevenAfter && !(r < uneven && r > 1/uneven) {
		fmt.Fprintf(w, "  Another estimate of that deviation is %.3g: the baseline is not one level with even scatter, and the charts may mislead.\n", c.Other)
	}
	for _, of := range []struct {
		name string
		chartOf
	}{{"CUSUM", c.CUSUM}, {"EWMA", c.EWMA}} {
		said := "does not signal"
		if of.Signal >= 0 {
			said = fmt.Sprintf("signals at sample %d, %s", of.Signal+1, s.told(s.times[of.Signal]))
		}
		fmt.Fprintf(w, "  %s (limit %.2f) %s; a shift by one deviation would take about %.0f samples.\n", of.name, of.Limit, said, of.Shift)
	}
}

// countsJSON is what a series of counts says as rates.
type countsJSON struct {
	PerMinute  float64   `json:"per_minute"`
	Interval   []float64 `json:"per_minute_interval"` // exact Poisson, 90 %, widened by the dispersion
	Dispersion float64   `json:"dispersion"`          // variance over mean: 1 for chance alone
	Ratio      float64   `json:"ratio"`               // of the newer half to the older
	P          float64   `json:"p"`                   // of as high a newer half by chance: exact, mid-P
}

// counted takes the values for counts over windows of so many seconds.
func (s *series) counted(seconds float64) (*countsJSON, error) {
	const op = "count"
	if !(seconds > 0 && seconds <= 3600) {
		return nil, home.Hinted(op, "Give the window in seconds, as 15, 30 or 60.", "a window of %g s", seconds)
	}
	p := s.present()
	s = &p
	counts, sum := make([]int, len(s.values)), 0
	for i, v := range s.values {
		if v < 0 || v != math.Trunc(v) || v > 1e6 {
			return nil, home.Hinted(op, "Give what was counted, not a rate.", "%g is no count", v)
		}
		counts[i] = int(v)
		sum += counts[i]
	}
	if len(counts) < 2 || sum == 0 {
		return nil, home.Hinted(op, "Give at least two counts, not all 0.", "too few counts")
	}
	minutes := float64(len(counts)) * seconds / 60
	lo, hi := stat.MidP(sum, 0.9)
	c := &countsJSON{PerMinute: float64(sum) / minutes}
	c.Dispersion, _ = stat.Dispersion(counts)
	widen := math.Sqrt(max(1, c.Dispersion))
	c.Interval = []float64{max(0, float64(sum)-widen*(float64(sum)-lo)) / minutes, (float64(sum) + widen*(hi-float64(sum))) / minutes}
	half := len(counts) / 2
	older := 0
	for _, n := range counts[:half] {
		older += n
	}
	test := stat.CompareRates(sum-older, float64(len(counts)-half), older, float64(half), 1)
	if !math.IsInf(test.Ratio, 0) && !math.IsNaN(test.Ratio) {
		c.Ratio = test.Ratio
	}
	c.P = test.MidP
	return c, nil
}

func (c *countsJSON) tell(w io.Writer) {
	fmt.Fprintf(w, "As counts: %.3g a minute (%.3g to %.3g); they scatter %.2f times as much as chance alone. The newer half is %.2f times the older (by chance: %s).\n",
		c.PerMinute, c.Interval[0], c.Interval[1], c.Dispersion, c.Ratio, chance(c.P))
}

// chance is a probability as a person reads it: digits of a tiny one mean nothing.
func chance(p float64) string {
	if p < 1e-4 {
		return "p < 0.0001"
	}
	return fmt.Sprintf("p = %.2g", p)
}
