package visit

import (
	"fmt"
	"math"
	"time"

	"weighbeam/home"
)

const (
	restFor     = 6 * time.Second  // a load must lie still for
	restLook    = time.Minute      // how far back the scale's own noise and rounding are looked for
	restHeld    = 10 * time.Minute // a scale that sends on change may say nothing of a load that lies still
	restLeast   = 3.0              // g; no scale of a house is asked to be quieter
	restRounded = 60.0             // g; a step larger than any scale's rounding
)

// LookBack is how long before now [Live] wants the loads of a scale.
const LookBack = restHeld + restLook

// Live says what a scale says now, and whether its load is at rest: for six
// seconds it moved no more than its noise and its rounding. samples are its loads
// of the last [LookBack], in time order.
func Live(samples []home.Reading, now time.Time) home.LiveLoad {
	if len(samples) == 0 {
		return home.LiveLoad{Moving: "Nothing has come from this scale for ten minutes. See that it is switched on and reaches the broker."}
	}
	last := samples[len(samples)-1]
	live := home.LiveLoad{Kg: last.Value, At: last.Time}
	switch gone := now.Sub(last.Time); {
	case gone > restHeld:
		live.Moving = fmt.Sprintf("It has said nothing for %s.", gone.Round(time.Second))
		return live
	case gone > restFor && steadyStream(samples):
		live.Moving = fmt.Sprintf("It spoke some times a second and has now been silent for %s.", gone.Round(time.Second))
		return live
	}
	live.Rest, live.Moving = restIn(samples, now.Add(-restFor), now)
	return live
}

// Recorded is the rest that recorded loads show from from to to, or why they show
// none. samples are the loads from [LookBack] before from on, in time order.
func Recorded(samples []home.Reading, from, to time.Time) (home.KnownLoad, error) {
	const op = "read a recorded load"
	rest, moving := restIn(samples, from, to)
	if moving != "" {
		return rest, home.Hinted(op, "Give a span in which nothing moved on the scale.", "%s to %s: %s", from.Format(time.RFC3339), to.Format(time.RFC3339), moving)
	}
	return rest, nil
}

// restIn reads the rest between two times, or says why there is none.
func restIn(samples []home.Reading, from, to time.Time) (home.KnownLoad, string) {
	blocks, per := secondMeans(samples, from, to)
	if len(blocks) == 0 {
		return home.KnownLoad{}, "No load is known of that time."
	}
	lo, hi := blocks[0], blocks[0]
	for _, b := range blocks {
		lo, hi = math.Min(lo, b), math.Max(hi, b)
	}
	noise, step := quiet(samples, to)
	within := max(restLeast/1000, 1.5*step, 5*noise/math.Sqrt(per))
	if hi-lo > within {
		return home.KnownLoad{}, fmt.Sprintf("The load moved by %.0f g; at rest it moves by less than %.0f g.", (hi-lo)*1000, math.Ceil(within*1000))
	}
	if len(blocks) > home.MaxRests {
		blocks = blocks[:home.MaxRests]
	}
	return home.KnownLoad{Load: blocks, From: from, To: to}, ""
}

// secondMeans is the mean of each second that has a sample, kg, and how many samples
// a second has. Where the first second has none, the sample before it stands for it.
func secondMeans(samples []home.Reading, from, to time.Time) (means []float64, per float64) {
	sum, n, total := 0.0, 0, 0
	second := int64(-1)
	held, before := 0.0, false
	flush := func() {
		if n > 0 {
			means = append(means, sum/float64(n))
		}
		sum, n = 0, 0
	}
	for _, s := range samples {
		switch {
		case s.Time.Before(from):
			held, before = s.Value, from.Sub(s.Time) <= restHeld
			continue
		case s.Time.After(to):
			continue
		}
		if at := int64(s.Time.Sub(from) / time.Second); at != second {
			flush()
			if second < 0 && at > 0 && before {
				means = append(means, held)
			}
			second = at
		}
		sum, n, total = sum+s.Value, n+1, total+1
	}
	flush()
	if len(means) == 0 && before {
		return []float64{held}, 1
	}
	return means, math.Max(1, float64(total)/math.Max(1, float64(len(means))))
}

// quiet is the noise of one sample and the smallest step of a scale, kg, from its
// last samples before to. Steps from sample to sample know no slow movement.
func quiet(samples []home.Reading, to time.Time) (noise, step float64) {
	var steps []float64
	for i := 1; i < len(samples); i++ {
		a, b := samples[i-1], samples[i]
		if b.Time.After(to) || to.Sub(a.Time) > restLook {
			continue
		}
		d := math.Abs(b.Value - a.Value)
		steps = append(steps, d)
		if d > 1e-6 && d < restRounded/1000 && (step == 0 || d < step) {
			step = d
		}
	}
	if len(steps) < 8 {
		return 0, step
	}
	return median(steps) / (0.6745 * math.Sqrt2), step
}

// steadyStream reports whether a scale sent without pause before it fell silent.
func steadyStream(samples []home.Reading) bool {
	const many = 20
	if len(samples) < many {
		return false
	}
	tail := samples[len(samples)-many:]
	for i := 1; i < len(tail); i++ {
		if tail[i].Time.Sub(tail[i-1].Time) > 2*time.Second {
			return false
		}
	}
	return true
}
