package manual

import (
	"math"
	"strconv"
	"time"

	"weighbeam/home"
)

// windows are the seconds a count may run over, as the form offers them.
func windows() []int { return []int{15, 30, 60} }

// states are how a counted cat may have been, as the form offers them.
func states() []home.State {
	return []home.State{home.Asleep, home.Resting, home.Active, home.AtClinic}
}

func (f *form) breaths() {
	if f.get("breaths") == "" {
		return
	}
	n, wrong := parseNumber(f.get("breaths"))
	window, okWindow := chosen(f.get("window"), windows())
	state, errState := home.ParseState(f.get("state"))
	if wrong != "" {
		f.fail("breaths", wrong)
	}
	if !okWindow {
		f.fail("window", msgWindow)
	}
	if errState != nil || state == "" {
		f.fail("state", msgState)
	}
	r := home.Reading{Quantity: home.Breaths, Value: n.Value, Window: time.Duration(window) * time.Second, State: state}
	switch {
	case wrong != "" || !okWindow:
	case n.Value != math.Trunc(n.Value):
		f.fail("breaths", msgWhole)
	case r.PerMinute() > mostBreaths || home.Breaths.Gate(n.Value) != nil:
		f.fail("breaths", msgMany)
	case f.wrong["state"] == "":
		f.add(r)
	}
}

// mostBreaths a minute is beyond any published count: 176 was the highest of 88
// healthy cats in a consulting room (Dijkstra et al. 2018, Vet J 234:96-101).
const mostBreaths = 300

func chosen(typed string, of []int) (int, bool) {
	for _, v := range of {
		if typed == strconv.Itoa(v) {
			return v, true
		}
	}
	return 0, false
}
