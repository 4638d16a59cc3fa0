package simulator

import (
	"fmt"
	"time"

	"weighbeam/home"
)

// Options says what house to make.
type Options struct {
	Seed     uint64
	Start    time.Time // first day; habits follow the clock of its location
	Days     int       // until the end of the history
	Cats     int       // how many to draw where Profiles is empty
	Profiles []Profile // the cats, in place of Cats
	Unwell   int       // of the drawn cats: the first loses weight, the next breathes faster, and so on in turn
	Scales   int       // litter boxes
	Devices  []Device  // given to the scales in turn; none: FiveHertz for each
	Faults   Fault
}

// MaxCats is how many cats can be drawn, each with its own name.
const MaxCats = len(catNames)

// New returns the house that the options describe, or what is wrong with them.
func New(o Options) (*House, error) {
	switch {
	case o.Days < 1 || o.Days > 366*50:
		return nil, home.Hinted("simulate", "Give between one day and fifty years.", "%d days", o.Days)
	case len(o.Profiles) == 0 && (o.Cats < 1 || o.Cats > MaxCats):
		return nil, home.Hinted("simulate", fmt.Sprintf("Give 1 to %d cats.", MaxCats), "%d cats", o.Cats)
	case o.Unwell < 0 || o.Unwell > o.Cats:
		return nil, home.Hinted("simulate", "Give at most as many unwell cats as there are cats to draw.", "%d unwell of %d cats", o.Unwell, o.Cats)
	case o.Scales < 1 || o.Scales > len(rooms):
		return nil, home.Hinted("simulate", fmt.Sprintf("Give 1 to %d scales.", len(rooms)), "%d scales", o.Scales)
	case o.Start.Year() < 1971 || o.Start.Year() > 2100:
		return nil, home.Hinted("simulate", "Give a start between 1971 and 2100.", "start %s", o.Start.Format(time.DateOnly))
	}
	return build(o)
}

var rooms = [...]string{"hall", "attic", "porch", "study", "cellar", "landing"}

func build(o Options) (*House, error) {
	y, m, d := o.Start.Date()
	h := &House{opt: o, profiles: o.Profiles, start: time.Date(y, m, d, 0, 0, 0, 0, o.Start.Location())}
	h.end = h.start.AddDate(0, 0, o.Days)
	draw := newDice(o.Seed, "house", 0)
	h.guestKg = draw.between(3.2, 6)
	if len(h.profiles) == 0 {
		for i := range o.Cats {
			p := drawProfile(newDice(o.Seed, "cat", uint64(i)), i, h.start)
			if i < o.Unwell {
				p.fallIll(newDice(o.Seed, "unwell", uint64(i)), i%2 == 1, h.start, o.Days)
			}
			h.profiles = append(h.profiles, p)
		}
	}
	for i := range o.Scales {
		dev := FiveHertz()
		if len(o.Devices) > 0 {
			dev = o.Devices[i%len(o.Devices)]
		}
		id := "box-" + rooms[i]
		h.devices = append(h.devices, dev.spoil(o.Faults, newDice(o.Seed, "device "+id, 0)))
		h.scales = append(h.scales, home.Scale{
			ID: id, Kind: home.LitterBox, Topic: "home/litter/" + rooms[i], Payload: "senml", Unit: "kg",
		})
	}
	if err := h.Household().Valid(); err != nil {
		return nil, fmt.Errorf("simulate: %w", err)
	}
	return h, nil
}
