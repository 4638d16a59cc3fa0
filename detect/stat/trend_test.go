package stat

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestDescribeTrend_Nile: one change, whose new level begins in 1899, after the
// last year of the old one, 1898 (strucchange 1.5-3: break after observation 28,
// 95 % interval 25 to 32, means 1097.75 and 849.97; three of five annotators of
// the Turing change point data set mark 28).
func TestDescribeTrend_Nile(t *testing.T) {
	y := nile(t)
	years := index(len(y))
	for i := range years {
		years[i] += 1871
	}
	got := DescribeTrend(years, y)
	if got.Shape != ShapeLevel || !slices.Equal(got.Changepoints, []int{28}) {
		t.Fatalf("%s with changes at %v, want a level that changed at 28", got.Shape, got.Changepoints)
	}
	if got.Onset != 1899 || got.Pace != 0 {
		t.Errorf("onset %v, pace %v", got.Onset, got.Pace)
	}
	near(t, "level before", got.Segments[0].Level, 1097.75, 1e-9)
	near(t, "level after", got.Level, 849.972222, 10) // one year set aside as a spike
	lo, hi := got.Intervals[0][0], got.Intervals[0][1]
	if lo < 25 || lo >= 28 || hi <= 28 || hi > 32 {
		t.Errorf("interval %d to %d, want 28 inside and all within 25 to 32", lo, hi)
	}
}

func TestDescribeTrend_Known(t *testing.T) {
	data := readExact(t)
	rows := []struct {
		name  string
		y     []float64
		shape string
		want  []int
	}{
		{"three levels", data["L2_A"].Y, ShapeLevel, []int{4, 8}},
		{"four levels", data["L2_B"].Y, ShapeLevel, []int{6, 11, 16}},
		{"four levels, down and up", data["L2_C"].Y, ShapeLevel, []int{4, 8, 12}},
		{"lines that jump", data["LIN_B"].Y, ShapeLine, []int{8, 16}},
		{"up, then down", data["CLIN_A"].Y, ShapeJoined, []int{7}},
		{"level, up, level, down", data["CLIN_B"].Y, ShapeJoined, []int{4, 10, 14}},
		{"manual of R's changepoint", column(readCSV(t, "changepoint_doc_example.csv"), "x"), ShapeLevel, []int{50, 100, 150}},
	}
	for _, r := range rows {
		got := DescribeTrend(index(len(r.y)), r.y)
		if got.Shape != r.shape || !slices.Equal(got.Changepoints, r.want) {
			t.Errorf("%s: %s %v, want %s %v", r.name, got.Shape, got.Changepoints, r.shape, r.want)
		}
	}
}

// TestDescribeTrend_Onset: a level that begins to fall is joined lines, with the
// onset and the pace inside their intervals about as often as they say, also where
// neighbours are correlated, and a spike changes nothing. (Of 150 each: 97 % and
// 92 % without correlation, 89 % and 85 % with 0.5, for a nominal 90 %.)
func TestDescribeTrend_Onset(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, rho := range []float64{0, 0.5} {
		var onsetIn, paceIn, found int
		const trials = 150
		for range trials {
			y := ar1(rng, 120, rho)
			for i := range y {
				y[i] = 100 + 0.5*y[i] - 0.1*max(0, float64(i)-70)
			}
			y[rng.IntN(120)] += 30
			got := DescribeTrend(index(120), y)
			if !got.Changed || len(got.Outliers) == 0 {
				continue
			}
			found++
			if got.OnsetLo <= 70 && 70 <= got.OnsetHi {
				onsetIn++
			}
			if got.PaceLo <= -0.1 && -0.1 <= got.PaceHi {
				paceIn++
			}
		}
		t.Logf("rho %v: found %d of %d, onset in %d, pace in %d", rho, found, trials, onsetIn, paceIn)
		if found < trials*9/10 || onsetIn < found*80/100 || paceIn < found*80/100 {
			t.Errorf("rho %v: found %d of %d, onset in %d, pace in %d", rho, found, trials, onsetIn, paceIn)
		}
	}
}

// TestDescribeTrend_Covers proves that the intervals hold the truth about as often as
// they say where it is not plain which description is right: a bend that might be a
// jump, one shortly before the end, a small jump that might be a slope.
func TestDescribeTrend_Covers(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, c := range []struct {
		name       string
		at         int
		jump, bend float64
	}{{"slow bend", 50, 0, -0.15}, {"late bend", 70, 0, -0.5}, {"small jump", 50, 1.5, 0}} {
		var onsetIn, paceIn, found int
		const trials = 120
		for range trials {
			y := ar1(rng, 80, 0)
			for i := range y {
				y[i] += c.bend * max(0, float64(i-c.at))
				if i >= c.at {
					y[i] += c.jump
				}
			}
			got := DescribeTrend(index(80), y)
			if got.PaceLo <= c.bend && c.bend <= got.PaceHi {
				paceIn++
			}
			if !got.Changed {
				continue
			}
			found++
			if got.OnsetLo <= float64(c.at) && float64(c.at) <= got.OnsetHi {
				onsetIn++
			}
		}
		t.Logf("%s: found %d of %d, onset in %d, pace in %d", c.name, found, trials, onsetIn, paceIn)
		if found < trials*6/10 || onsetIn < found*78/100 || paceIn < trials*78/100 {
			t.Errorf("%s: found %d of %d, onset in %d, pace in %d", c.name, found, trials, onsetIn, paceIn)
		}
	}
}

// TestDescribeTrend_Quiet: noise without a change is described without one, nine
// times in ten, also where neighbours are correlated.
func TestDescribeTrend_Quiet(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, rho := range []float64{0, 0.3, 0.6} {
		changed := 0
		const trials = 100
		for range trials {
			if DescribeTrend(index(200), ar1(rng, 200, rho)).Changed {
				changed++
			}
		}
		t.Logf("rho %v: %d of %d", rho, changed, trials)
		if changed > trials/10 {
			t.Errorf("rho %v: %d of %d have a change", rho, changed, trials)
		}
	}
}

// TestDescribeTrend_Units: other units of time and value describe the same trend,
// and what is missing changes only the indexes.
func TestDescribeTrend_Units(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		n := rapid.IntRange(3, 60).Draw(t, "n")
		y := ar1(rng, n, 0)
		for i := n / 2; i < n; i++ {
			y[i] += 6
		}
		a, b := rapid.Float64Range(-5, 5).Draw(t, "a"), rapid.Float64Range(0.1, 20).Draw(t, "b")
		days, hours, other := index(n), []float64{math.NaN()}, []float64{1}
		for i := range y {
			hours, other = append(hours, 24*days[i]), append(other, a+b*y[i])
		}
		p, q := DescribeTrend(days, y), DescribeTrend(hours, other)
		if p.Shape != q.Shape || len(p.Changepoints) != len(q.Changepoints) {
			t.Fatalf("%+v\n%+v", p, q)
		}
		for i, c := range p.Changepoints {
			if q.Changepoints[i] != c+1 {
				t.Fatalf("changes at %v and %v", p.Changepoints, q.Changepoints)
			}
		}
		if want := b * p.Pace / 24; math.Abs(q.Pace-want) > 1e-6*(1+math.Abs(want)) {
			t.Fatalf("pace %v, want %v", q.Pace, want)
		}
	})
}

func TestDescribeTrend_Short(t *testing.T) {
	nan := math.NaN()
	rows := []struct {
		name  string
		t, y  []float64
		n     int
		level float64
	}{
		{"nothing", nil, nil, 0, 0},
		{"one", []float64{1}, []float64{5}, 1, 5},
		{"two", []float64{1, 2}, []float64{5, 7}, 2, 7},
		{"all missing", []float64{nan, 2}, []float64{5, nan}, 0, 0},
		{"times go back", []float64{2, 1, 3}, []float64{5, 7, 6}, 0, 0},
		{"one time", []float64{2, 2, 2, 2}, []float64{5, 7, 6, 6}, 1, 6},
		{"constant", index(30), slices.Repeat([]float64{4}, 30), 30, 4},
	}
	for _, r := range rows {
		got := DescribeTrend(r.t, r.y)
		if got.N != r.n || math.Abs(got.Level-r.level) > 1e-9 || got.Changed {
			t.Errorf("%s: %+v", r.name, got)
		}
	}
}

// TestDescribeTrend_Long: a series of many samples is thinned, and its change
// still found within a run.
func TestDescribeTrend_Long(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	y := ar1(rng, 20000, 0)
	for i := 12345; i < len(y); i++ {
		y[i] += 3
	}
	got := DescribeTrend(index(len(y)), y)
	if len(got.Changepoints) != 1 || math.Abs(float64(got.Changepoints[0]-12345)) > 40 {
		t.Errorf("changes at %v", got.Changepoints)
	}
}

func BenchmarkDescribeTrend(b *testing.B) {
	y := ar1(rand.New(rand.NewPCG(1, 1)), 730, 0.4)
	t := index(len(y))
	for b.Loop() {
		DescribeTrend(t, y)
	}
}

// FuzzDescribeTrend: no data makes it panic.
func FuzzDescribeTrend(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 200, 6, 7, 8}, uint8(3))
	f.Add([]byte{0, 0, 0, 255, 255, 255, 9, 9, 9}, uint8(0))
	f.Fuzz(func(t *testing.T, raw []byte, step uint8) {
		var times, values []float64
		for i, b := range raw {
			times = append(times, float64(i)*float64(step)/7)
			v := (float64(b) - 128) / 16
			switch b {
			case 255:
				v = math.Inf(1)
			case 254:
				v = math.NaN()
			case 253:
				v = 1e300
			}
			values = append(values, v)
		}
		got := DescribeTrend(times, values)
		if len(got.Segments) > 0 && len(got.Segments) != len(got.Changepoints)+1 {
			t.Errorf("%d segments, %d changes", len(got.Segments), len(got.Changepoints))
		}
	})
}

// TestDescribeTrend_ChangeInAGap: what began while nothing was measured began at some
// time after the last sample before the gap, not with the first after it.
func TestDescribeTrend_ChangeInAGap(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	var times, values []float64
	for i := range 180 {
		if i >= 60 && i < 120 {
			continue
		}
		times, values = append(times, float64(i)), append(values, 10-0.1*max(0, float64(i)-100)+0.5*rng.NormFloat64())
	}
	got := DescribeTrend(times, values)
	if !got.Changed || got.OnsetLo > 100 || got.OnsetHi < 100 || got.OnsetLo < 55 {
		t.Errorf("onset %v between %v and %v, want 100 in it", got.Onset, got.OnsetLo, got.OnsetHi)
	}
}
