package visit_test

func fixed(g float64) func(float64) float64 { return func(float64) float64 { return g } }

// Three cats, two of them 330 g apart.
var plainCats = []animal{{grams: fixed(3900)}, {grams: fixed(4230)}, {grams: fixed(5600)}}

// Five cats, two of them 170 g apart, and one that loses 6.5 g a day across both.
var hardCats = []animal{
	{grams: fixed(3300)}, {grams: fixed(4100)}, {grams: fixed(4270)}, {grams: fixed(5600)},
	{grams: func(day float64) float64 { return 4650 - 6.5*day }},
}

func plainTemper() temper {
	return temper{visits: 5, looks: 0.5, paws: 0.3, knocks: 0.5, hands: 1, topups: 1}
}

func hardTemper() temper {
	return temper{visits: 6, looks: 1, turns: 0.6, doubles: 0.2, paws: 1, knocks: 1, hands: 1.2, guests: 0.1, lifts: 1, topups: 1.5, lids: 2, restless: 0.3}
}

func plainCell() cell {
	return cell{name: "5 Hz", hz: 5, round: 1, beat: 60, tail: 8, wake: 50, noise: 1.5, thermal: 8, creep: 0.0002}
}

func hardCells() []cell {
	return []cell{
		{name: "5 Hz", hz: 5, round: 1, beat: 60, tail: 6, wake: 50, noise: 2.5, thermal: 30, creep: 0.0006, spikes: 2e-3, gaps: 0.15},
		{name: "1 Hz, 10 g steps", hz: 1, round: 10, beat: 60, tail: 10, wake: 50, noise: 3, thermal: 30, creep: 0.0006, spikes: 2e-3, gaps: 0.15},
		{name: "on change of 25 g", hz: 10, round: 1, band: 25, beat: 300, wake: 50, noise: 2.5, thermal: 30, creep: 0.0006, spikes: 5e-4, gaps: 0.15},
	}
}

// twist is one thing made worse than in the hard house.
type twist struct {
	name string
	how  func(*temper)
	cell func(*cell)
}

func twists() []twist {
	asIs := func(*temper) {}
	same := func(*cell) {}
	return []twist{
		{"white sway of 1.5 %", func(h *temper) { h.restless = 1.5 }, same},
		{"white sway of 3 %", func(h *temper) { h.restless = 3 }, same},
		{"looks of up to 20 s", func(h *temper) { h.lookLong, h.looks = 20, 2 }, same},
		{"hands that press steadily", func(h *temper) { h.handCV, h.hands = 0.04, 2 }, same},
		{"visits of 5 to 15 s", func(h *temper) { h.short = true }, same},
		{"creep and heat", asIs, func(c *cell) { c.creep, c.thermal = 0.0015, 70 }},
		{"silent as soon as empty", asIs, func(c *cell) { c.tail = 0 }},
		{"heartbeats of 10 minutes", asIs, func(c *cell) { c.tail, c.beat = 0, 600 }},
		{"spikes and dropouts", asIs, func(c *cell) { c.spikes, c.gaps = 5*c.spikes, 0.4 }},
		{"noise of 8 g", asIs, func(c *cell) { c.noise = 8 }},
	}
}
