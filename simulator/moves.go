package simulator

// catMoves is how a cat spends a visit of total seconds: in, look about, dig,
// squat, cover, out. What it leaves passes to the box while it squats.
func catMoves(d dice, e Event, total float64) []bout {
	in, out := entry(d, e), leaving(d, e)
	middle := total - length(in) - length(out)
	if middle < 1 {
		// A visit too short for its ways in and out is walked through faster.
		squeeze(in, out, (total-1)/(total-middle))
		middle = 1
	}
	moves := append(in, inside(d, e, middle)...)
	moves = append(moves, out...)
	if e.Faults.Has(Restless) {
		for i := range moves {
			moves[i].effort = max(moves[i].effort, effortRestless*d.between(0.7, 1.4))
		}
	}
	return moves
}

func length(moves []bout) float64 { return (&act{bouts: moves}).lasts() }

func squeeze(in, out []bout, factor float64) {
	for i := range in {
		in[i].last *= factor
	}
	for i := range out {
		out[i].last *= factor
	}
}

func entry(d dice, e Event) []bout {
	if e.Faults.Has(TwoStep) {
		return []bout{
			{last: 0.5, share: d.between(0.3, 0.6), effort: effortWalk, hz: 2},
			{last: d.between(1.5, 6), share: d.between(0.35, 0.6), effort: effortShift, hz: 1.5},
			{last: 0.7, share: 1, effort: effortWalk, hz: 2},
		}
	}
	return []bout{
		{last: d.between(0.3, 0.6), share: 0.5, effort: effortWalk, hz: 2},
		{last: d.between(0.4, 0.9), share: 1, effort: effortWalk, hz: 2},
	}
}

func leaving(d dice, e Event) []bout {
	switch {
	case e.Faults.Has(JumpOut):
		// Down and up: the centre sinks, then is thrown upwards with about half of gravity to all of it.
		return []bout{{last: 0.15, share: 1, push: -3}, {last: 0.18, share: 1, push: d.between(5, 10)}, {last: 0.02}}
	case e.Faults.Has(TwoStep):
		return []bout{
			{last: 0.6, share: d.between(0.35, 0.6), effort: effortWalk, hz: 2},
			{last: d.between(1, 4), share: d.between(0.3, 0.55), effort: effortShift, hz: 1.5},
			{last: 0.5, effort: effortWalk, hz: 2},
		}
	}
	return []bout{
		{last: d.between(0.3, 0.8), share: 0.5, effort: effortWalk, hz: 2},
		{last: d.between(0.3, 0.6), effort: effortWalk, hz: 2},
	}
}

// inside fills the time between the ways in and out.
func inside(d dice, e Event, middle float64) []bout {
	busy := func(part, effort, hz float64) bout {
		return bout{last: part * middle, share: 1, effort: effort, hz: hz}
	}
	about, dig := busy(d.between(0.06, 0.14), effortShift, 1.2), busy(d.between(0.08, 0.18), effortShift, 1.2)
	cover, pause := busy(d.between(0.1, 0.22), effortShift, 1.2), busy(d.between(0.04, 0.1), effortStill, 0.9)
	if e.Faults.Has(Turning) {
		about.effort, about.hz = effortTurn, 1.8
	}
	if e.Faults.Has(Digging) {
		dig.effort, dig.hz = effortDig*d.between(0.6, 1.3), 3.5
		cover.effort, cover.hz = effortDig*d.between(0.5, 1.1), 3.2
		cover.put = -e.ThrownG / 1000
	}
	rest := middle - about.last - dig.last - cover.last - pause.last
	settle := bout{last: rest * 0.25, share: 1, effort: effortStill * 1.5, hz: 0.9}
	squat := bout{last: rest * 0.55, share: 1, effort: effortStill, hz: 0.8, leave: (e.UrineG + e.FaecesG) / 1000}
	after := bout{last: rest * 0.2, share: 1, effort: effortStill, hz: 0.9}
	return []bout{about, dig, settle, squat, after, cover, pause}
}

// glitches draws what goes wrong in the electronics during a visit.
func glitches(d dice, f Fault, total float64) []glitch {
	var list []glitch
	add := func(fault Fault, n int, shortest, longest float64) {
		for range n {
			from := d.between(0.1, 0.85) * total
			list = append(list, glitch{fault: fault, from: from, to: from + d.between(shortest, longest)})
		}
	}
	if f.Has(Dropout) {
		add(Dropout, 1+d.IntN(3), 0.6, 6)
	}
	if f.Has(Stuck) {
		add(Stuck, 1, 5, 20)
	}
	if f.Has(Spikes) {
		n := len(list)
		add(Spikes, 1+d.IntN(4), 1.1, 1.1) // long enough to meet a sample of the slowest device; only one is hit
		for i := n; i < len(list); i++ {
			list[i].kg = d.between(1, 12) * float64(1-2*d.IntN(2))
		}
	}
	return list
}
