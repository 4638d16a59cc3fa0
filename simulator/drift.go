package simulator

import "math"

// drift is how the zero of a cell moves by itself, a function of time alone, so
// that it is the same wherever reading starts.
type drift struct {
	thermal, zero  bool
	warmKg, slowKg float64
	phase          [4]float64
}

// newDrift draws how far the zero of a cell moves; part scales it for a cell
// that is smaller than one under a litter box.
func newDrift(f Fault, d dice, part float64) drift {
	r := drift{thermal: f.Has(Thermal), zero: f.Has(ZeroDrift), warmKg: part * d.between(0.008, 0.025), slowKg: part * d.between(0.02, 0.06)}
	for i := range r.phase {
		r.phase[i] = d.between(0, 2*math.Pi)
	}
	return r
}

// at is the shift of the zero in kg at a time in microseconds. Warmth follows
// the day, more on some days than others; the slow wander has periods of weeks.
func (r drift) at(us int64) float64 {
	day := 2 * math.Pi * float64(us) / 86400e6
	kg := 0.0
	if r.thermal {
		kg += r.warmKg * math.Sin(day+r.phase[0]) * (1 + 0.5*math.Sin(day/9.7+r.phase[1]))
	}
	if r.zero {
		kg += r.slowKg * (math.Sin(day/47+r.phase[2]) + 0.4*math.Sin(day/13+r.phase[3]))
	}
	return kg
}
