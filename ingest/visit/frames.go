package visit

import "math"

// frame is a short piece of an episode: samples that followed each other closely
// and did not jump.
type frame struct {
	T0, T1 int64   // ns, of its first and last sample
	Sum    float64 // load times hold, g s
	Hold   float64 // how long its samples stand for the load, s
	Lo, Hi float64 // g
	N      int
}

func (f *frame) mean() float64 { return f.Sum / f.Hold }

// frames holds an episode of any length in a bounded number of frames: when it
// is full, neighbours are joined.
type frames struct {
	Of  []frame
	Len float64 // s that a frame covers
}

const (
	maxFrames = 512
	frameLen  = 0.4
	leastHold = 1e-3 // s
)

func newFrames() frames { return frames{Of: make([]frame, 0, maxFrames), Len: frameLen} }

func (f *frames) clear() { f.Of, f.Len = f.Of[:0], frameLen }

// add takes in the sample g at ns that stands for hold s; jump is the step that
// starts a new frame.
func (f *frames) add(ns int64, g, hold, jump float64) {
	hold = math.Max(hold, leastHold)
	if n := len(f.Of); n > 0 {
		l := &f.Of[n-1]
		if seconds(ns-l.T0) < f.Len && math.Abs(g-l.mean()) <= jump {
			l.T1, l.Sum, l.Hold, l.N = ns, l.Sum+g*hold, l.Hold+hold, l.N+1
			l.Lo, l.Hi = math.Min(l.Lo, g), math.Max(l.Hi, g)
			return
		}
	}
	if len(f.Of) == maxFrames {
		f.halve()
	}
	f.Of = append(f.Of, frame{T0: ns, T1: ns, Sum: g * hold, Hold: hold, Lo: g, Hi: g, N: 1})
}

// halve joins each frame with its neighbour and doubles what a frame covers.
func (f *frames) halve() {
	f.Len *= 2
	half := f.Of[:0]
	for i := 0; i+1 < len(f.Of); i += 2 {
		half = append(half, join(f.Of[i], f.Of[i+1]))
	}
	f.Of = half
}

func join(a, b frame) frame {
	return frame{
		T0: a.T0, T1: b.T1, Sum: a.Sum + b.Sum, Hold: a.Hold + b.Hold,
		Lo: math.Min(a.Lo, b.Lo), Hi: math.Max(a.Hi, b.Hi), N: a.N + b.N,
	}
}

// before returns the frames that begin before ns.
func (f *frames) before(ns int64) []frame {
	n := len(f.Of)
	for n > 0 && f.Of[n-1].T0 >= ns {
		n--
	}
	return f.Of[:n]
}
