package visit_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// house is a seeded history of one scale.
type house struct {
	events []force
	truth  []truth
	days   float64
}

type temper struct {
	visits, looks, turns, doubles, paws, knocks, hands float64 // a day
	guests                                             float64 // a day
	lifts, topups, lids                                float64 // a week
	restless                                           float64
	lookLong                                           float64 // s; looks may last so long; 0: 12
	handCV                                             float64 // how steady hands press; 0: any
	short                                              bool    // short visits
}

// newHouse draws the events of that many days for the cats.
func newHouse(r *rand.Rand, cats []animal, days int, how temper, box float64) *house {
	h := &house{days: float64(days)}
	soiled := 0.0
	pick := func(day float64) (float64, float64) {
		c := cats[r.IntN(len(cats))]
		return c.grams(day), max(c.restless, how.restless)
	}
	for d := range days {
		day := float64(d)
		for _, at := range moments(r, day, how.visits) {
			m, q := pick(day)
			h.add(shorten(r, visitOf(r, at, m, q), how.short))
		}
		for _, at := range moments(r, day, how.guests) {
			h.add(visitOf(r, at, 3000+3500*r.Float64(), how.restless))
		}
		for _, at := range moments(r, day, how.looks) {
			m, _ := pick(day)
			h.add(lookOf(r, at, m, how.lookLong))
		}
		for _, at := range moments(r, day, how.turns) {
			m1, q := pick(day)
			m2, _ := pick(day)
			for m2 == m1 {
				m2, _ = pick(day)
			}
			h.add(turnsOf(r, at, m1, m2, q))
		}
		for _, at := range moments(r, day, how.doubles) {
			m1, q := pick(day)
			m2, _ := pick(day)
			h.add(doubleOf(r, at, m1, m2, q))
		}
		for _, at := range moments(r, day, how.paws) {
			h.add(pawOf(r, at))
		}
		for _, at := range moments(r, day, how.knocks) {
			h.add(knockOf(r, at))
		}
		for _, at := range moments(r, day, how.hands) {
			h.add(handsOf(r, at, 0, how.handCV, "scoop"))
		}
		for _, at := range moments(r, day, how.topups/7) {
			h.add(handsOf(r, at, 300+1500*r.Float64(), how.handCV, "topup"))
		}
		for _, at := range moments(r, day, how.lifts/7) {
			h.add(liftOf(r, at, box, -800+1600*r.Float64(), "change"))
		}
		for _, at := range moments(r, day, how.lids/7) {
			h.add(liftOf(r, at, 400+500*r.Float64(), 0, "lid"))
		}
	}
	h.settle(r, &soiled)
	return h
}

func moments(r *rand.Rand, day, perDay float64) []float64 {
	n := int(perDay)
	if r.Float64() < perDay-float64(n) {
		n++
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = (day + r.Float64()) * 86400
	}
	return out
}

func (h *house) add(f force) { h.events = append(h.events, f) }

// settle puts the events in order, drops those that would overlap, gives each
// scoop what lies in the box, and collects the truth.
func (h *house) settle(r *rand.Rand, soiled *float64) {
	slices.SortFunc(h.events, func(a, b force) int {
		if a.at < b.at {
			return -1
		}
		return 1
	})
	free := 600.0
	kept := h.events[:0]
	for _, e := range h.events {
		if e.at < free {
			continue
		}
		free = e.at + float64(len(e.load))*tick + 5 + 40*r.Float64()
		switch e.truth[0].kind {
		case "scoop":
			net := -*soiled * (0.7 + 0.3*r.Float64())
			for i := range e.load {
				e.load[i] += net * float64(i) / float64(len(e.load))
			}
			e.net = net
			*soiled += net
		case "change":
			*soiled = 0
		case "visit", "shared":
			*soiled += e.net
		}
		kept = append(kept, e)
		h.truth = append(h.truth, e.truth...)
	}
	h.events = kept
}

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 77)) }

// The house is like a real one: published mean and upper limit of the length of a
// visit (59 s and 132 s; Shin et al. 2024, J Vet Clin 41:71-78), and faeces and
// urine of published size (see deposit).
func TestHouse_Visits_AsPublished(t *testing.T) {
	r := newRand(1)
	var long, left []float64
	sum := 0.0
	for range 20_000 {
		s := stayLength(r)
		long = append(long, s)
		sum += s / 20_000
		if d := deposit(r); d > 0 {
			left = append(left, d)
		}
	}
	if math.Abs(sum-59) > 3 || math.Abs(quantile(long, 0.975)-132) > 8 {
		t.Errorf("visits of %.0f s, 97.5 %% under %.0f s", sum, quantile(long, 0.975))
	}
	if m := quantile(left, 0.5); m < 24 || m > 36 {
		t.Errorf("half of what is left weighs under %.0f g", m)
	}
}

// Newton's laws hold for its cats: what a cat does in the box averages to its weight.
func TestHouse_Bounce_AveragesToNought(t *testing.T) {
	r := newRand(2)
	for range 20 {
		a := bounce(r, ticks(300))
		sum := 0.0
		for _, v := range a {
			sum += v / float64(len(a))
		}
		if math.Abs(sum) > 0.01 {
			t.Errorf("a mean of %.4f of its size over five minutes", sum)
		}
	}
}
