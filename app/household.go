package app

import (
	"bytes"
	"fmt"
	"os"
	"time"

	"github.com/pelletier/go-toml/v2"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// householdFile is the household file: who lives in the house and what weighs them.
type householdFile struct {
	Practice string         `toml:"practice,omitempty"` // the veterinary practice
	Phone    string         `toml:"phone,omitempty"`
	Units    string         `toml:"units,omitempty"`
	Zone     string         `toml:"zone,omitempty"`
	Quiet    []string       `toml:"quiet,omitempty"` // from and to
	Cat      []catEntry     `toml:"cat,omitempty"`
	Scale    []scaleEntry   `toml:"scale,omitempty"`
	Contact  []contactEntry `toml:"contact,omitempty"` // who is told
}

type catEntry struct {
	ID       string  `toml:"id"`
	Name     string  `toml:"name"`
	Born     any     `toml:"born,omitempty"` // a date, or a year
	Sex      string  `toml:"sex,omitempty"`
	Neutered bool    `toml:"neutered,omitempty"`
	WeightKg float64 `toml:"weight_kg,omitempty"`
	Chip     string  `toml:"chip,omitempty"`
}

type scaleEntry struct {
	ID         string   `toml:"id"`
	Kind       string   `toml:"kind"`
	Cats       []string `toml:"cats,omitempty"`
	Topic      string   `toml:"topic,omitempty"`
	Payload    string   `toml:"payload,omitempty"`
	Unit       string   `toml:"unit,omitempty"`
	TagTopic   string   `toml:"tag_topic,omitempty"`   // of a tag reader beside it
	TagPayload string   `toml:"tag_payload,omitempty"` // number, json:PATH or senml
	Sends      string   `toml:"sends,omitempty"`       // load, or weight from a device that sends one settled value a stay
}

// ReadHousehold reads the household file at path.
func ReadHousehold(path string) (home.Household, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return home.Household{}, &home.Error{Op: "read household", Err: err, Hint: "Give the path of a household file."}
	}
	h, err := ParseHousehold(text)
	if err != nil {
		return home.Household{}, atFile(path, err)
	}
	return h, nil
}

// ParseHousehold reads a household file from text.
func ParseHousehold(text []byte) (home.Household, error) {
	var f householdFile
	if err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(&f); err != nil {
		return home.Household{}, explain(err)
	}
	h := home.Household{Practice: f.Practice, Phone: f.Phone, Units: f.Units, Zone: f.Zone}
	switch len(f.Quiet) {
	case 0:
	case 2:
		h.QuietFrom, h.QuietTo = f.Quiet[0], f.Quiet[1]
	default:
		return home.Household{}, home.Hinted("read household", `Write quiet = ["22:00", "07:00"].`, "quiet hours have a beginning and an end")
	}
	for _, e := range f.Contact {
		h.Contacts = append(h.Contacts, e.contact())
	}
	for _, e := range f.Cat {
		c, err := e.cat()
		if err != nil {
			return home.Household{}, &home.Error{Op: "read household", Err: err,
				Hint: "Write born = 2014-05-02, or only the year."}
		}
		h.Cats = append(h.Cats, c)
	}
	for _, e := range f.Scale {
		s := e.scale()
		if _, err := payload.ForScale(s); err != nil {
			return home.Household{}, err
		}
		if _, err := payload.ForReader(s); err != nil {
			return home.Household{}, err
		}
		h.Scales = append(h.Scales, s)
	}
	if err := h.Valid(); err != nil {
		return home.Household{}, &home.Error{Op: "read household", Hint: "Correct that entry of the household file.", Err: err}
	}
	return h, nil
}

func (e catEntry) cat() (home.Cat, error) {
	c := home.Cat{ID: e.ID, Name: e.Name, Sex: e.Sex, Neutered: e.Neutered, WeightKg: e.WeightKg, Chip: e.Chip}
	switch born := e.Born.(type) {
	case nil:
	case int64:
		if born < 1980 || born > 2200 {
			return c, fmt.Errorf("cat %q: born in %d cannot be", e.ID, born)
		}
		c.Born, c.BornYear = time.Date(int(born), 1, 1, 0, 0, 0, 0, time.UTC), true
	case toml.LocalDate:
		c.Born = born.AsTime(time.UTC)
	case time.Time:
		c.Born = time.Date(born.Year(), born.Month(), born.Day(), 0, 0, 0, 0, time.UTC)
	default:
		return c, fmt.Errorf("cat %q: born is neither a date nor a year", e.ID)
	}
	return c, nil
}

func (e scaleEntry) scale() home.Scale {
	return home.Scale{ID: e.ID, Kind: home.Kind(e.Kind), Cats: e.Cats, Topic: e.Topic,
		Payload: e.Payload, Unit: e.Unit, Sends: home.Quantity(e.Sends), TagTopic: e.TagTopic, TagPayload: e.TagPayload}
}

// FormatHousehold writes a household file that ParseHousehold reads back.
func FormatHousehold(h home.Household) ([]byte, error) {
	f := householdFile{Practice: h.Practice, Phone: h.Phone, Units: h.Units, Zone: h.Zone}
	if h.QuietFrom != "" {
		f.Quiet = []string{h.QuietFrom, h.QuietTo}
	}
	for _, c := range h.Contacts {
		f.Contact = append(f.Contact, contactEntryOf(c))
	}
	for _, c := range h.Cats {
		e := catEntry{ID: c.ID, Name: c.Name, Sex: c.Sex, Neutered: c.Neutered, WeightKg: c.WeightKg, Chip: c.Chip}
		switch {
		case c.Born.IsZero():
		case c.BornYear:
			e.Born = c.Born.Year()
		default:
			e.Born = toml.LocalDate{Year: c.Born.Year(), Month: int(c.Born.Month()), Day: c.Born.Day()}
		}
		f.Cat = append(f.Cat, e)
	}
	for _, s := range h.Scales {
		f.Scale = append(f.Scale, scaleEntryOf(s))
	}
	return toml.Marshal(f)
}

func scaleEntryOf(s home.Scale) scaleEntry {
	return scaleEntry{ID: s.ID, Kind: string(s.Kind), Cats: s.Cats, Topic: s.Topic, Payload: s.Payload, Unit: s.Unit, Sends: string(s.Sends),
		TagTopic: s.TagTopic, TagPayload: s.TagPayload}
}
