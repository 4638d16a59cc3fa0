package stat

import "math"

// withoutSpikes returns y with single samples, or two together, that stand far
// off their neighbours put back to the neighbours' median, and the indexes of
// those. It is a Hampel filter (Pearson 2002) over five samples, which leaves
// jumps to a level that stays for three samples or more as they are; a sample
// that goes on the line through the next two, or the last two, is no spike either,
// so that the end of a steep stretch is kept.
func withoutSpikes(y []float64) (clean []float64, spikes []int) {
	const half, far = 2, 6.0
	n := len(y)
	clean = append(clean, y...)
	if n < 2*half+3 {
		return clean, nil
	}
	centre, off := make([]float64, n), make([]float64, n)
	for i := range y {
		centre[i] = Median(y[max(0, i-half):min(n, i+half+1)])
		off[i] = y[i] - centre[i]
	}
	// The median of five holds the sample itself, so a fifth of the offsets are
	// 0 by construction; the spread is taken over the others.
	var others []float64
	for _, v := range off {
		if v != 0 {
			others = append(others, v)
		}
	}
	limit := far * madScale * Median(absolute(others))
	for i, v := range off {
		if math.Abs(v) > limit && offLine(y, i, 1) > limit && offLine(y, i, -1) > limit {
			clean[i] = centre[i]
			spikes = append(spikes, i)
		}
	}
	return clean, spikes
}

func absolute(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = math.Abs(v)
	}
	return out
}

// offLine is how far the sample i is off the line through the two samples next to
// it in the given direction, +Inf where there are none.
func offLine(y []float64, i, step int) float64 {
	if j := i + 2*step; j < 0 || j >= len(y) {
		return math.Inf(1)
	}
	return math.Abs(y[i] - 2*y[i+step] + y[i+2*step])
}
