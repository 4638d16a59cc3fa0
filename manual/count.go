package manual

import (
	"math"
	"strconv"
	"time"

	"weighbeam/home"
)

// counting is how the form takes one kind of count.
type counting struct {
	q                    home.Quantity
	field, window, state string  // names of its fields
	windows              []int   // seconds it may run over
	usual                int     // of them, the one offered first
	most                 float64 // a minute that no cat reaches
}

// The two counts of the form. No healthy cat of 88 breathed more than 176 times a
// minute in a consulting room (Dijkstra et al. 2018, Vet J 234:96-101); restrained
// hearts beat 187 times, standard deviation 25 (Abbott 2005, J Feline Med Surg 7:195-202).
// Six and ten seconds are for a heart that will not wait.
var (
	breathing = counting{home.Breaths, "breaths", "window", "state", []int{15, 30, 60}, 30, 300}
	beating   = counting{home.Heartbeats, "beats", "beats-window", "beats-state", []int{6, 10, 15, 30, 60}, 15, 400}
)

// states are how a counted cat may have been, as the form offers them.
func states() []home.State {
	return []home.State{home.Asleep, home.Resting, home.Active, home.AtClinic}
}

func (f *form) count(c counting) {
	if f.get(c.field) == "" {
		return
	}
	n, wrong := parseNumber(f.get(c.field))
	window, okWindow := chosen(f.get(c.window), c.windows)
	state, errState := home.ParseState(f.get(c.state))
	if wrong != "" {
		f.fail(c.field, wrong)
	}
	if !okWindow {
		f.fail(c.window, msgWindow)
	}
	if errState != nil || state == "" {
		f.fail(c.state, msgState)
	}
	r := home.Reading{Quantity: c.q, Value: n.Value, Window: time.Duration(window) * time.Second, State: state}
	switch {
	case wrong != "" || !okWindow:
	case n.Value != math.Trunc(n.Value):
		f.fail(c.field, msgWhole)
	case r.PerMinute() > c.most || c.q.Gate(n.Value) != nil:
		f.fail(c.field, msgMany)
	case f.wrong[c.state] == "":
		f.add(r)
	}
}

func chosen(typed string, of []int) (int, bool) {
	for _, v := range of {
		if typed == strconv.Itoa(v) {
			return v, true
		}
	}
	return 0, false
}

// temperature reads a body temperature in Celsius or Fahrenheit.
func (f *form) temperature() {
	if f.get("temperature") == "" {
		return
	}
	n, wrong := parseNumber(f.get("temperature"))
	if wrong != "" {
		f.fail("temperature", wrong)
		return
	}
	unit := f.get("temperature-unit")
	cel, err := home.Convert(n.Value, unit, home.Temperature)
	sd, _ := home.ConvertSD(roundedSD(n.Step), unit, home.Temperature) // the same unit as above
	switch {
	case err != nil:
		f.fail("temperature-unit", msgUnit)
	case home.Temperature.Gate(cel) != nil:
		f.fail("temperature", msgHeat)
	default:
		f.add(home.Reading{Quantity: home.Temperature, Value: math.Round(cel*1000) / 1000, SD: sd})
	}
}
