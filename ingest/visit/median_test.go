package visit

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The middle found by selection is the middle found by sorting.
func TestMedian_Any_AsSorted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) float64 {
			return float64(rapid.IntRange(-20, 20).Draw(t, "x"))
		}), 1, 60).Draw(t, "v")
		s := slices.Sorted(slices.Values(v))
		n := len(s)
		if got, want := median(v), (s[(n-1)/2]+s[n/2])/2; got != want {
			t.Fatalf("median of %v is %v, want %v", s, got, want)
		}
	})
}
