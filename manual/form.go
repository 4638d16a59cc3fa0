package manual

import (
	"net/url"
	"strings"
	"time"

	"weighbeam/home"
)

// form is one filled-in page: what was typed, what could be made of it, and
// what is wrong beside which field.
type form struct {
	typed url.Values
	wrong map[string]string // keys of the catalogue, by field
	about map[string][]any  // what goes into them
	check home.HomeCheck
	files []home.PhotoFile // the pictures that came with it
}

// read makes a check of what was typed, as far as it goes. What cannot be used
// is in wrong; nothing of it is in the check.
func read(typed url.Values, h home.Household, now time.Time, zone *time.Location) *form {
	f := &form{typed: typed, wrong: map[string]string{}, about: map[string][]any{}}
	f.cat(h)
	f.when(now, zone)
	f.person()
	f.flags()
	f.parts()
	f.weight()
	f.count(breathing)
	f.count(beating)
	f.temperature()
	f.lumps()
	f.given()
	f.photos()
	if f.check.Empty() && len(f.wrong) == 0 {
		f.wrong["form"] = msgNothing
	}
	f.identify(now)
	return f
}

// get is the field as typed, without the spaces around it.
func (f *form) get(field string) string { return strings.TrimSpace(f.typed.Get(field)) }

func (f *form) fail(field, message string, pairs ...any) {
	if f.wrong[field] == "" {
		f.wrong[field], f.about[field] = message, pairs
	}
}

func (f *form) cat(h home.Household) {
	if _, ok := h.Cat(f.get("cat")); !ok {
		f.fail("cat", msgCat)
		return
	}
	f.check.Cat = f.get("cat")
}

// stampLayouts are how a time may be typed.
var stampLayouts = []string{stampTyped, "2006-01-02T15:04:05", "2006-01-02 15:04", time.RFC3339}

// ahead is how far a phone's clock may run before the house's without a time
// being called the future.
const ahead = 5 * time.Minute

func (f *form) when(now time.Time, zone *time.Location) {
	f.check.Time = now
	if f.get("when") == "" {
		f.fail("when", msgWhenEmpty)
		return
	}
	var t time.Time
	var err error
	for _, layout := range stampLayouts {
		if t, err = time.ParseInLocation(layout, f.get("when"), zone); err == nil {
			break
		}
	}
	switch {
	case err != nil:
		f.fail("when", msgWhen)
	case t.After(now.Add(ahead)):
		f.fail("when", msgFuture)
	case t.Year() < 1990:
		f.fail("when", msgLongAgo)
	default:
		f.check.Time = t
	}
}

func (f *form) person() {
	f.check.By, f.check.Note = f.get("by"), f.get("note")
	if len(f.check.By) > 200 {
		f.fail("by", msgBy)
		f.check.By = ""
	}
	if len(f.check.Note) > home.MaxNote {
		f.fail("note", msgNote)
		f.check.Note = ""
	}
}

func (f *form) flags() {
	for _, known := range home.RedFlags() {
		for _, typed := range f.typed["flag"] {
			if typed == string(known) {
				f.check.RedFlags = append(f.check.RedFlags, known)
				break
			}
		}
	}
}

func (f *form) add(r home.Reading) {
	r.Source, r.Cat, r.Clock = home.Hand, f.check.Cat, home.ByHand
	f.check.Readings = append(f.check.Readings, r)
}
