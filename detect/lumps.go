package detect

import (
	"cmp"
	"slices"
	"time"

	"weighbeam/home"
)

// lumps finds a lump that a practice should see: one that is 2 cm or more, that is
// there for three months or more, or that has grown a month after it was first
// measured (the 3-2-1 rule of the Vaccine-Associated Feline Sarcoma Task Force,
// AVMA 1999, its edges taken on the careful side), and any lump of the mammary chain
// (Merck Veterinary Manual 2024).
type lumps struct {
	known map[string][]lumpSeen
	open  bool
}

type lumpSeen struct {
	at time.Time
	home.Lump
}

const (
	largeLump  = 20.0 // mm
	oldLump    = 90 * oneDay
	growsAfter = 30 * oneDay
	lumpGrows  = 2.0 // mm, about what two measurings with a ruler differ by (common practice, no published source)
)

func newLumps() *lumps { return &lumps{known: map[string][]lumpSeen{}} }

func (l *lumps) kind() home.Sign { return home.LumpToShow }

func (l *lumps) step(o Observation) verdict {
	if o.Check == nil || len(o.Check.Lumps) == 0 {
		return verdict{}
	}
	for _, lump := range o.Check.Lumps {
		l.known[lump.ID] = append(l.known[lump.ID], lumpSeen{o.Check.Time, lump})
	}
	return l.judge(o.Check.Time)
}

func (l *lumps) wake(now time.Time) time.Time {
	if len(l.known) == 0 {
		return time.Time{}
	}
	return midnight(dayOf(now.Add(oneDay / 2))).Add(oneDay / 2)
}

// tick judges once a day: a lump also grows old.
func (l *lumps) tick(now time.Time) verdict {
	if len(l.known) == 0 || now.UTC().Hour() != 12 {
		return verdict{}
	}
	return l.judge(now)
}

func (l *lumps) judge(now time.Time) verdict {
	var why []string
	var first time.Time
	data := 0
	for _, id := range sortedKeys(l.known) {
		seen := l.known[id]
		reason := seen[len(seen)-1].matters(seen[0], now)
		if reason == "" {
			continue
		}
		why, data = append(why, reason), data+len(seen)
		if at := since(seen[0]); first.IsZero() || at.Before(first) {
			first = at
		}
	}
	switch {
	case len(why) > 0:
		l.open = true
		return foundAs(home.Finding{Urgency: home.Book, Onset: first, OnsetLo: first, OnsetHi: first, Data: data,
			Warnings: []string{warnSeenByPerson}, Text: lumpText(why)})
	case l.open:
		l.open = false
		return clearAs(lumpsGone)
	}
	return verdict{}
}

// since is from when a lump is known.
func since(s lumpSeen) time.Time {
	if !s.FirstSeen.IsZero() && s.FirstSeen.Before(s.at) {
		return s.FirstSeen
	}
	return s.at
}

// matters says why a lump should be seen, "" where it need not.
func (s lumpSeen) matters(first lumpSeen, now time.Time) string {
	switch {
	case s.Gone:
		return ""
	case s.Place == home.AtMammary:
		return lumpAt(s.Lump, "in the mammary chain, where every lump should be seen")
	case s.SizeMm() >= largeLump:
		return lumpAt(s.Lump, "2 cm or more")
	case first.SizeMm() > 0 && s.at.Sub(first.at) >= growsAfter && s.SizeMm() >= first.SizeMm()+lumpGrows:
		return lumpAt(s.Lump, "growing")
	case now.Sub(since(first)) >= oldLump:
		return lumpAt(s.Lump, "there for three months or more")
	}
	return ""
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, cmp.Compare[string])
	return keys
}

func (l *lumps) outlook(time.Time, *home.Outlook) {}
