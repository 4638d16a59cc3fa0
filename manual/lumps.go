package manual

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
)

// A lump that is known is filled in under lumpPrefix, its id and what is asked:
// "lump-neck-left-1f0c.length".
const lumpPrefix = "lump-"

// lumps reads the lumps that are known, and the new one.
func (f *form) lumps() {
	var ids []string
	for field := range f.typed {
		if rest, ok := strings.CutPrefix(field, lumpPrefix); ok {
			if id, ok := strings.CutSuffix(rest, ".place"); ok {
				ids = append(ids, id)
			}
		}
	}
	slices.Sort(ids)
	for _, id := range ids {
		f.knownLump(id)
	}
	f.newLump()
}

// knownLump takes a lump that something was filled in for; the rest stays as it is known.
func (f *form) knownLump(id string) {
	at := func(what string) string { return lumpPrefix + id + "." + what }
	l := home.Lump{ID: id, Place: home.Place(f.get(at("place"))), Side: home.Side(f.get(at("side"))),
		Gone: f.get(at("gone")) != "", Note: f.get(at("note"))}
	l.LengthMm, l.WidthMm, l.HeightMm = f.mm(at("length")), f.mm(at("width")), f.mm(at("height"))
	l.FirstSeen, _ = time.Parse(time.DateOnly, f.get(at("first"))) // written by the page; zero where it is not known
	if l.SizeMm() == 0 && !l.Gone && l.Note == "" {
		return
	}
	if l.Valid() != nil {
		f.fail(at("length"), msgPart)
		return
	}
	f.check.Lumps = append(f.check.Lumps, l)
}

func (f *form) newLump() {
	l := home.Lump{Place: home.Place(f.get("new-place")), Side: home.Side(f.get("new-side")), Note: f.get("new-note")}
	l.LengthMm, l.WidthMm, l.HeightMm = f.mm("new-length"), f.mm("new-width"), f.mm("new-height")
	l.FirstSeen = f.date("new-first")
	if l.Place == "" && l.SizeMm() == 0 && l.Note == "" {
		return
	}
	if l.FirstSeen.IsZero() {
		l.FirstSeen = f.check.Time.UTC().Truncate(24 * time.Hour)
	}
	l.ID = lumpID(l, f.get("id"))
	_, okSide := home.ParseSide(string(l.Side))
	switch {
	case !slices.Contains(home.Places(), l.Place):
		f.fail("new-place", msgPlace)
	case !okSide:
		f.fail("new-side", msgPart)
	case l.Valid() != nil:
		f.fail("new-note", msgNote)
	default:
		f.check.Lumps = append(f.check.Lumps, l)
	}
}

// lumpID names a new lump by its place and the form it was found with, so that
// the same form sent twice finds one lump.
func lumpID(l home.Lump, form string) string {
	sum := sha256.Sum256([]byte(form))
	id := string(l.Place)
	if l.Side != "" {
		id += "-" + string(l.Side)
	}
	return id + "-" + hex.EncodeToString(sum[:3])
}

// mm is a length as typed, 0 where the field is empty or cannot be used.
func (f *form) mm(field string) float64 {
	if f.get(field) == "" {
		return 0
	}
	n, wrong := parseNumber(f.get(field))
	switch {
	case wrong != "":
		f.fail(field, wrong)
	case n.Value <= 0 || n.Value > home.MostLumpMm:
		f.fail(field, msgLump, "hi", home.MostLumpMm)
	default:
		return n.Value
	}
	return 0
}

// date is a day as typed, zero where the field is empty or cannot be used.
func (f *form) date(field string) time.Time {
	if f.get(field) == "" {
		return time.Time{}
	}
	t, err := time.Parse(time.DateOnly, f.get(field))
	switch {
	case err != nil:
		f.fail(field, msgDate)
	case t.After(f.check.Time.Add(24 * time.Hour)):
		f.fail(field, msgFuture)
	case t.Year() < 1990:
		f.fail(field, msgLongAgo)
	default:
		return t
	}
	return time.Time{}
}

// knownLumps are the lumps that were there when each was last looked at, with
// what was found before, oldest first.
func knownLumps(checks []home.HomeCheck) map[string][]lumpAt {
	all := map[string][]lumpAt{}
	for _, c := range checks {
		for _, l := range c.Lumps {
			all[l.ID] = append(all[l.ID], lumpAt{c.Time, l})
		}
	}
	for id, one := range all {
		slices.SortFunc(one, func(a, b lumpAt) int { return a.Time.Compare(b.Time) })
		if one[len(one)-1].Gone {
			delete(all, id)
		}
	}
	return all
}

// lumpAt is a lump as it was at a time.
type lumpAt struct {
	time.Time
	home.Lump
}
