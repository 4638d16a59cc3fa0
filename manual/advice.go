package manual

import (
	"slices"
	"strconv"

	"weighbeam/home"
)

// advice is what a single check asks for by itself, whatever any trend says.
func (m *room) advice(c home.HomeCheck) []string {
	var keys []string
	for _, r := range c.Readings {
		keys = append(keys, adviceOnReading(r))
	}
	for _, s := range c.Seen {
		keys = append(keys, adviceOnSeen(s))
	}
	for _, l := range c.Lumps {
		keys = append(keys, adviceOnLump(l, c))
	}
	var said []string
	for _, k := range keys {
		if text := m.words.say("stored." + k); k != "" && !slices.Contains(said, text) {
			said = append(said, text)
		}
	}
	// Evangelista et al. 2019, Sci Rep 9:19128: over 0.39 of the highest sum.
	if sum, most := home.PainFace(c.Seen); most > 0 && sum > 0.39*most {
		said = append(said, m.words.say("stored.pain", "sum", strconv.Itoa(int(sum)), "most", strconv.Itoa(int(most))))
	}
	return said
}

// adviceOnReading is the key of what to do about a number, "" for nothing.
func adviceOnReading(r home.Reading) string {
	switch {
	// Repeated sleeping counts over 30 merit a look; a lone one is counted again
	// first (Ljungvall et al. 2014, J Feline Med Surg, abstract).
	case r.Quantity == home.Breaths && r.State == home.Asleep && r.PerMinute() > 30:
		return "recount"
	// Merck Veterinary Manual, triage table: under 120 and over 220 are abnormal.
	case r.Quantity == home.Heartbeats && r.State != home.Active && (r.PerMinute() < 120 || r.PerMinute() > 220):
		return "beats"
	// Levy, Nutt & Tucker 2015, J Feline Med Surg 17:950-952: 200 healthy indoor adults.
	case r.Quantity == home.Temperature && (r.Value < 36.7 || r.Value > 38.9):
		return "heat"
	}
	return ""
}

// adviceOnSeen is the key of what to do about a look, "" for nothing.
func adviceOnSeen(s home.Seen) string {
	switch {
	// Merck Veterinary Manual, triage table: over two seconds is poor perfusion.
	case s.Part == home.Refill && (s.Is("over-two-seconds") || s.HasNumber && s.Number > 2):
		return "slow-refill"
	case s.Part == home.Gums && (s.Is("pale") || s.Is("yellow")):
		return "pale"
	case s.Part == home.Appetite && s.Is("nothing"):
		return "nothing-eaten"
	case s.Part == home.Mammary && s.Is("lump"):
		return "mammary"
	}
	return ""
}

// adviceOnLump is the key of what to do about a lump: along the teats whatever its
// size (Merck Veterinary Manual, mammary tumours in cats), else by the lines of the
// Vaccine-Associated Feline Sarcoma Task Force (AVMA 1999), taken at their edge.
// Growth shows only from check to check and is judged elsewhere.
func adviceOnLump(l home.Lump, c home.HomeCheck) string {
	switch {
	case l.Gone:
	case l.Place == home.AtMammary:
		return "mammary"
	case l.SizeMm() >= 20, !l.FirstSeen.IsZero() && !c.Time.Before(l.FirstSeen.AddDate(0, 3, 0)):
		return "lump"
	}
	return ""
}
