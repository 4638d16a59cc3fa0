package whose

import (
	"math"
	"time"
)

// habits is what is known of how each cat uses the house: which scale, and at
// what hour. It is weak evidence, learned only from visits that weight alone
// makes sure, compared with the habits of the whole house, and bounded.
type habits struct {
	scales map[string]int
	byCat  []habit
	house  habit
}

// habit counts visits by scale and by hour of the day (UTC), fading with time.
type habit struct {
	visits float64
	scale  []float64
	hour   [hours]float64
}

const hours = 24

const (
	habitKeeps = 60.0 // days after which a count has fallen to 1/e
	habitWorth = 25.0 // visits that the habit of the house is worth
	habitMost  = 1.2  // most that one habit says, in nats
	habitSure  = 0.95 // a visit teaches habits from this probability
)

func newHabits(cats int) habits {
	return habits{scales: map[string]int{}, byCat: make([]habit, cats)}
}

func (h *habits) fade(days float64) {
	if h.house.visits == 0 {
		return // nothing was counted yet, of no cat
	}
	f := math.Exp(-days / habitKeeps)
	h.house.fade(f)
	for i := range h.byCat {
		h.byCat[i].fade(f)
	}
}

func (h *habit) fade(f float64) {
	h.visits *= f
	for i := range h.scale {
		h.scale[i] *= f
	}
	for i := range h.hour {
		h.hour[i] *= f
	}
}

// scale returns the number of a scale, a new one for one not seen before.
func (h *habits) scale(source string) int {
	i, ok := h.scales[source]
	if !ok {
		i = len(h.scales)
		h.scales[source] = i
		h.house.scale = append(h.house.scale, 0)
		for c := range h.byCat {
			h.byCat[c].scale = append(h.byCat[c].scale, 0)
		}
	}
	return i
}

// factor returns how much more likely cat is to come to source at t than any
// visitor of the house is.
func (h *habits) factor(cat, scale int, t time.Time) float64 {
	c := &h.byCat[cat]
	f := 1.0
	if len(h.house.scale) > 1 {
		f *= more(c.scale[scale], c.visits, h.house.scale[scale], h.house.visits, float64(len(h.house.scale)))
	}
	hr := t.UTC().Hour()
	return f * more(c.hour[hr], c.visits, h.house.hour[hr], h.house.visits, hours)
}

// more is the ratio of a cat's rate n of all to the house's rate m of every,
// each over the given number of places, bounded.
func more(n, all, m, every, places float64) float64 {
	base := (m + 1) / (every + places)
	rate := (n + habitWorth*base) / (all + habitWorth)
	return math.Exp(math.Min(math.Max(math.Log(rate/base), -habitMost), habitMost))
}

// add learns from a visit that was by cat with probability p.
func (h *habits) add(cat, scale int, t time.Time, p float64) {
	hr := t.UTC().Hour()
	for _, to := range [2]*habit{&h.byCat[cat], &h.house} {
		to.visits += p
		to.scale[scale] += p
		to.hour[hr] += p / 2
		to.hour[(hr+1)%hours] += p / 4
		to.hour[(hr+hours-1)%hours] += p / 4
	}
}
