package simulator

// say is what the device sends now, if it does.
func (s *scale) say(moving bool) (kg float64, ok bool) {
	s.renew()
	kg = s.plate.shows() + s.drift.at(s.now) + s.dev.NoiseKg*s.noise.NormFloat64()
	kg, ok = s.spoil(kg)
	if !ok || s.off() {
		return 0, false
	}
	kg = round(min(kg, s.dev.MaxKg), s.dev.StepKg)
	switch {
	case s.now/s.idle > s.sent/s.idle: // heartbeats go by the clock, so that they are the same wherever reading starts
		return kg, true
	case s.dev.BandKg > 0:
		return kg, kg-s.last >= s.dev.BandKg || s.last-kg >= s.dev.BandKg
	}
	return kg, moving
}

// renew begins the noise of a new day.
func (s *scale) renew() {
	if s.now >= s.nextDay {
		day := s.now / dayUS
		s.noise = newDice(s.seed, "noise "+s.name, uint64(day))
		s.nextDay = (day + 1) * dayUS
	}
}

// off reports whether the device has no power.
func (s *scale) off() bool {
	for len(s.silences) > 0 && s.now >= s.silences[0][1] {
		s.silences = s.silences[1:]
	}
	return len(s.silences) > 0 && s.now >= s.silences[0][0]
}

// spoil applies what goes wrong in the electronics; ok is false for a sample
// that never leaves the device.
func (s *scale) spoil(kg float64) (_ float64, ok bool) {
	stuck := false
	for _, b := range s.bodies {
		for i := range b.glitches {
			g := &b.glitches[i]
			if b.since < g.from || b.since >= g.to {
				continue
			}
			switch g.fault {
			case Dropout:
				return 0, false
			case Stuck:
				stuck = true
			case Spikes:
				kg += g.kg
				g.to = 0 // one sample only
			}
		}
	}
	if stuck && !s.stuck {
		s.held = kg
	}
	if s.stuck = stuck; stuck {
		kg = s.held
	}
	return kg, true
}
