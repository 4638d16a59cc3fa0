package stat

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// exact is one series of segmentation_exact.json, whose optima were found in
// exact rationals by dynamic programming and by full enumeration.
type exact struct {
	Y         []float64
	Shortest  int `json:"min_seg_len"`
	ByChanges []struct {
		Changes int
		Breaks  []int `json:"bkps"`
		Cost    float64
		Unique  *bool
	} `json:"by_changes"`
	Penalties []struct {
		Breaks  []int   `json:"bkps"`
		PenFrom float64 `json:"pen_from"`
		PenTo   any     `json:"pen_to"`
	} `json:"penalty_path"`
	ByKnots []struct {
		Knots  []int
		RSS    float64
		Slopes []float64
	} `json:"by_knots"`
}

func readExact(t *testing.T) map[string]exact {
	t.Helper()
	var file map[string]exact
	readJSON(t, "segmentation_exact.json", &file)
	return file
}

func index(n int) []float64 {
	t := make([]float64, n)
	for i := range t {
		t[i] = float64(i)
	}
	return t
}

// TestSegmentations_Exact checks cost and, where the optimum is unique, breaks.
func TestSegmentations_Exact(t *testing.T) {
	shapes := map[string]Shape{"L2_A": Level, "L2_B": Level, "L2_C": Level, "L2_D_tie": Level, "LIN_A": Line, "LIN_B": Line}
	for name, d := range readExact(t) {
		shape, ok := shapes[name]
		if !ok {
			continue
		}
		shortest := max(d.Shortest, 1)
		got := Segmentations(index(len(d.Y)), d.Y, shape, shortest, 4)
		for _, want := range d.ByChanges {
			if want.Changes > 4 || want.Changes >= len(got) {
				continue
			}
			near(t, name+" cost", got[want.Changes].Cost, want.Cost, 1e-9)
			tie := shape == Level && (want.Unique == nil || !*want.Unique)
			if !tie && !slices.Equal(got[want.Changes].Breaks, want.Breaks) {
				t.Errorf("%s with %d breaks: %v, want %v", name, want.Changes, got[want.Changes].Breaks, want.Breaks)
			}
		}
		delete(shapes, name)
	}
	if len(shapes) > 0 {
		t.Errorf("not in the file: %v", shapes)
	}
}

// TestSegmentations_Penalty takes, in the middle of each penalty interval, the
// cut with the least penalised cost and finds the one that is optimal there.
func TestSegmentations_Penalty(t *testing.T) {
	checked := 0
	for name, d := range readExact(t) {
		for _, want := range d.Penalties {
			to, bounded := want.PenTo.(float64)
			if !bounded {
				to = 2*want.PenFrom + 1
			}
			if len(want.Breaks) > 4 || to <= want.PenFrom || len(d.ByKnots) > 0 || tied(name, len(want.Breaks)) {
				continue
			}
			shape := Level
			if name[:3] == "LIN" {
				shape = Line
			}
			penalty := (want.PenFrom + to) / 2
			var best Segmentation
			least := math.Inf(1)
			for m, s := range Segmentations(index(len(d.Y)), d.Y, shape, max(1, d.Shortest), 6) {
				if v := s.Cost + penalty*float64(m); v < least-1e-12 {
					best, least = s, v
				}
			}
			if !slices.Equal(best.Breaks, want.Breaks) {
				t.Errorf("%s at penalty %v: %v, want %v", name, penalty, best.Breaks, want.Breaks)
			}
			checked++
		}
	}
	if checked < 15 {
		t.Errorf("only %d penalties checked", checked)
	}
}

// tied reports whether several cuts of the series share the least cost, so that
// any of them is right.
func tied(name string, breaks int) bool {
	return name == "L2_C" && breaks == 4 || name == "L2_D_tie" && breaks == 2
}

// TestSegmentations_Nile is strucchange 1.5-3, breakpoints(Nile ~ 1): residual
// sums of squares and break dates for one to four breaks, h = 15.
func TestSegmentations_Nile(t *testing.T) {
	y := nile(t)
	got := Segmentations(index(len(y)), y, Level, 15, 4)
	near(t, "none", got[0].Cost, 2835156.75, 0.01)
	near(t, "one", got[1].Cost, 1597457.19444, 0.01)
	for m, want := range [][]int{nil, {28}, {28, 83}, {28, 68, 83}, {28, 45, 68, 83}} {
		if !slices.Equal(got[m].Breaks, want) {
			t.Errorf("%d breaks: %v, want %v", m, got[m].Breaks, want)
		}
	}
}

// TestSegmentations_Documented is the example of the manual of R's changepoint,
// cpt.mean: changes after 50, 100 and 150.
func TestSegmentations_Documented(t *testing.T) {
	y := column(readCSV(t, "changepoint_doc_example.csv"), "x")
	got := Segmentations(index(len(y)), y, Level, 1, 3)
	near(t, "cost", got[3].Cost, 169.382934182, 1e-6)
	if want := []int{50, 100, 150}; !slices.Equal(got[3].Breaks, want) {
		t.Errorf("%v, want %v", got[3].Breaks, want)
	}
}

// TestSegmentations_Properties: breaks are in order and apart, and where any cut
// is allowed more of them never cost more.
func TestSegmentations_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfN(rapid.Float64Range(-10, 10), 1, 30).Draw(t, "y")
		shape := Shape(rapid.IntRange(0, 1).Draw(t, "shape"))
		shortest := rapid.IntRange(1, 5).Draw(t, "shortest")
		ways := Segmentations(index(len(y)), y, shape, shortest, 3)
		if len(y) < shortest && ways != nil {
			t.Fatal("a cut of too short a series")
		}
		last := math.Inf(1)
		for m, s := range ways {
			if len(s.Breaks) != m || shortest == 1 && s.Cost > last+1e-9 {
				t.Fatalf("entry %d: %+v after cost %v", m, s, last)
			}
			last = s.Cost
			for i, b := range append(slices.Clone(s.Breaks), len(y)) {
				before := 0
				if i > 0 {
					before = s.Breaks[i-1]
				}
				if b-before < shortest {
					t.Fatalf("segment %d to %d is shorter than %d", before, b, shortest)
				}
			}
		}
	})
}

func TestSegmentations_Unusable(t *testing.T) {
	for name, got := range map[string][]Segmentation{
		"nothing": Segmentations(nil, nil, Level, 1, 3), "lengths": Segmentations([]float64{1}, []float64{1, 2}, Level, 1, 3),
		"missing": Segmentations([]float64{0, 1}, []float64{1, math.NaN()}, Level, 1, 3),
	} {
		if got != nil {
			t.Errorf("%s: %v", name, got)
		}
	}
}
