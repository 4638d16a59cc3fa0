package manual

import (
	"slices"
	"strings"
	"time"

	"weighbeam/home"
)

// section is what a person looks at in one go: a fold of the form.
type section struct {
	ID    string
	parts []home.Part
	// measures are the quantities that the section takes.
	measures []home.Quantity
	last     bool // stays at the end, however long ago it was looked at
}

// sections are the folds of the form, in the order in which a cat that was never
// looked at is offered them: from afar first, the mouth late.
func sections() []section {
	return []section{
		{ID: "general", parts: []home.Part{home.Alertness, home.Posture, home.Gait, home.BreathLook, home.Coat}},
		{ID: "breaths", measures: []home.Quantity{home.Breaths}},
		{ID: "weight", measures: []home.Quantity{home.Weight}},
		{ID: "eating", parts: []home.Part{home.Appetite, home.Drinking}},
		{ID: "litter", parts: []home.Part{home.Urine, home.Stool, home.Vomiting}},
		{ID: "behaviour", parts: []home.Part{home.Behaviour}},
		{ID: "condition", parts: []home.Part{home.BodyScore, home.Muscle}},
		{ID: "lumps"},
		{ID: "nodes", parts: []home.Part{home.NodeJaw, home.NodeFront, home.NodeKnee}},
		{ID: "head", parts: []home.Part{home.Eyes, home.Ears, home.Nose}},
		{ID: "rear", parts: []home.Part{home.Mammary, home.UnderTail}},
		{ID: "mouth", parts: []home.Part{home.Gums, home.RedLine, home.Refill}},
		{ID: "heart", measures: []home.Quantity{home.Heartbeats}},
		{ID: "face", parts: home.FaceParts(), last: true},
		{ID: "temperature", measures: []home.Quantity{home.Temperature}, last: true},
		{ID: "photos", last: true},
		{ID: "note", last: true},
	}
}

// sectionOf is the section that the whole section's tap is of; nil for none.
func sectionOf(id string) *section {
	all := sections()
	i := slices.IndexFunc(all, func(s section) bool { return s.ID == id })
	if i < 0 {
		return nil
	}
	return &all[i]
}

// looked reports whether the check looked at anything of s.
func (s section) looked(c home.HomeCheck) bool {
	switch s.ID {
	case "lumps":
		return len(c.Lumps) > 0
	case "photos":
		return len(c.Photos) > 0
	case "note":
		return c.Note != ""
	}
	return slices.ContainsFunc(c.Seen, func(o home.Seen) bool { return slices.Contains(s.parts, o.Part) }) ||
		slices.ContainsFunc(c.Readings, func(r home.Reading) bool { return slices.Contains(s.measures, r.Quantity) }) ||
		s.ID == "eating" && len(c.Given) > 0
}

// lookedAt is when s was last looked at; zero for never.
func (s section) lookedAt(checks []home.HomeCheck) time.Time {
	var last time.Time
	for _, c := range checks {
		if c.Time.After(last) && s.looked(c) {
			last = c.Time
		}
	}
	return last
}

// offered are the sections in the order to offer them: what was not looked at
// for longest first.
func offered(checks []home.HomeCheck) []section {
	all := sections()
	slices.SortStableFunc(all, func(a, b section) int {
		switch {
		case a.last != b.last && a.last:
			return 1
		case a.last != b.last:
			return -1
		case a.last:
			return 0
		}
		return a.lookedAt(checks).Compare(b.lookedAt(checks))
	})
	return all
}

// tappable reports whether a section has a tap for "all as usual".
func (s section) tappable() bool { return slices.ContainsFunc(s.parts, usualSays) }

// usualSays reports whether "as usual" says something of a part.
func usualSays(p home.Part) bool {
	t, _ := p.Trait()
	return !t.NoUsual && !t.Whole
}

// preset fields hold something before anything was typed.
var preset = map[string]bool{"unit": true, "window": true, "beats-window": true, "temperature-unit": true}

// fieldSection is the section that a field stands in, "" for none.
func fieldSection(field string) string {
	switch field {
	case "unit", "weight", "with", "without", "step":
		return "weight"
	case "breaths", "window", "state":
		return "breaths"
	case "beats", "beats-window", "beats-state":
		return "heart"
	case "temperature", "temperature-unit":
		return "temperature"
	case "photo", "caption", "kept":
		return "photos"
	case "note":
		return "note"
	}
	for _, p := range []string{"new-", lumpPrefix} {
		if strings.HasPrefix(field, p) {
			if strings.HasSuffix(field, ".place") || strings.HasSuffix(field, ".side") || strings.HasSuffix(field, ".first") {
				return "" // written by the page
			}
			return "lumps"
		}
	}
	if strings.HasPrefix(field, givenPrefix) {
		return "eating"
	}
	return partSection(field)
}

func partSection(field string) string {
	key, ok := strings.CutPrefix(field, partPrefix)
	if !ok {
		key, ok = strings.CutPrefix(field, numberPrefix)
	}
	if !ok {
		return ""
	}
	key = strings.TrimSuffix(strings.TrimSuffix(key, "-left"), "-right")
	for _, s := range sections() {
		if slices.Contains(s.parts, home.Part(key)) {
			return s.ID
		}
	}
	return ""
}
