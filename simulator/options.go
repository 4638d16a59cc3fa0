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
	Feeders  int       // food bowls on scales
	Waters   int       // water bowls on scales
	Devices  []Device  // given to the litter boxes in turn; none: FiveHertz for each
	Faults   Fault
	Often    float64 // how often a fault that is on strikes, against the usual; 0 is 1
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
	case o.Feeders < 0 || o.Feeders > len(rooms) || o.Waters < 0 || o.Waters > len(rooms):
		return nil, home.Hinted("simulate", fmt.Sprintf("Give at most %d bowls of a kind.", len(rooms)), "%d feeders and %d water bowls", o.Feeders, o.Waters)
	case o.Often < 0 || o.Often > 10:
		return nil, home.Hinted("simulate", "Let faults strike at most ten times as often as usual.", "%g times as often", o.Often)
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
	if o.Often == 0 {
		h.opt.Often = 1
	}
	draw := newDice(o.Seed, "house", 0)
	h.guestKg = draw.between(3.2, 6)
	if len(h.profiles) == 0 {
		h.drawCats()
	}
	for i := range o.Scales {
		dev := FiveHertz()
		if len(o.Devices) > 0 {
			dev = o.Devices[i%len(o.Devices)]
		}
		dev = dev.spoil(o.Faults, newDice(o.Seed, "device box-"+rooms[i], 0))
		h.install(home.LitterBox, "box-", "home/litter/", i, dev)
	}
	for i := range o.Feeders {
		h.install(home.Feeder, "food-", "home/food/", i, Kitchen())
	}
	for i := range o.Waters {
		h.install(home.Water, "water-", "home/water/", i, Kitchen())
	}
	if err := h.Household().Valid(); err != nil {
		return nil, fmt.Errorf("simulate: %w", err)
	}
	return h, nil
}

func (h *House) drawCats() {
	for i := range h.opt.Cats {
		p := drawProfile(newDice(h.opt.Seed, "cat", uint64(i)), i, h.start)
		if i < h.opt.Unwell {
			p.fallIll(newDice(h.opt.Seed, "unwell", uint64(i)), i%2 == 1, h.start, h.opt.Days)
		}
		h.profiles = append(h.profiles, p)
	}
}

func (h *House) install(k home.Kind, id, topic string, room int, dev Device) {
	h.devices = append(h.devices, dev)
	h.scales = append(h.scales, home.Scale{ID: id + rooms[room], Kind: k, Topic: topic + rooms[room], Payload: "senml", Unit: "kg"})
}
