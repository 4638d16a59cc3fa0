package manual

import (
	"slices"
	"strconv"

	"weighbeam/home"
)

// A part of the check is filled in under partPrefix and its key: "p-eyes-left".
// Its number is under numberPrefix.
const (
	partPrefix   = "p-"
	numberPrefix = "n-"
)

// partKey names a part and side in the form.
func partKey(p home.Part, s home.Side) string {
	if s == "" {
		return string(p)
	}
	return string(p) + "-" + string(s)
}

// sides are the sides that a part is asked for.
func sides(p home.Part) []home.Side {
	if t, _ := p.Trait(); t.Sides {
		return []home.Side{home.Left, home.Right}
	}
	return []home.Side{""}
}

// parts reads what was seen, and the red flags that it amounts to.
func (f *form) parts() {
	for _, p := range home.Parts() {
		for _, side := range sides(p) {
			f.part(p, side)
		}
	}
	f.usual()
	for _, s := range f.check.Seen {
		if flag, ok := s.RedFlag(); ok && !slices.Contains(f.check.RedFlags, flag) {
			f.check.RedFlags = append(f.check.RedFlags, flag)
		}
	}
}

func (f *form) part(p home.Part, side home.Side) {
	key := partKey(p, side)
	s := home.Seen{Part: p, Side: side, Values: f.ticked(partPrefix + key)}
	f.partNumber(&s, numberPrefix+key)
	if len(s.Values) == 0 && !s.HasNumber {
		return
	}
	t, _ := p.Trait()
	slices.SortFunc(s.Values, func(a, b string) int { return slices.Index(t.Values, a) - slices.Index(t.Values, b) })
	bare := s
	bare.Number, bare.HasNumber = 0, false
	switch {
	case len(s.Values) > 1 && slices.Contains(s.Values, home.Usual):
		f.fail(partPrefix+key, msgUsual)
	case len(s.Values) > 1 && !t.Many:
		f.fail(partPrefix+key, msgOne)
	case len(s.Values) > 0 && bare.Valid() != nil:
		f.fail(partPrefix+key, msgPart)
	case f.wrong[numberPrefix+key] == "":
		f.check.Seen = append(f.check.Seen, s)
	}
}

// ticked are the values chosen under a field, without the one that says nothing.
func (f *form) ticked(field string) []string {
	var values []string
	for _, v := range f.typed[field] {
		if v != "" && !slices.Contains(values, v) {
			values = append(values, v)
		}
	}
	return values
}

func (f *form) partNumber(s *home.Seen, field string) {
	if f.get(field) == "" {
		return
	}
	n, wrong := parseNumber(f.get(field))
	if wrong != "" {
		f.fail(field, wrong)
		return
	}
	s.Number, s.HasNumber = n.Value, true
	alone := home.Seen{Part: s.Part, Side: s.Side, Number: n.Value, HasNumber: true}
	if alone.Valid() != nil {
		t, _ := s.Part.Trait()
		f.fail(field, msgRange, "lo", t.Min, "hi", t.Max)
	}
}

// usual fills in "as usual" for what was left empty of each section that was
// tapped as a whole.
func (f *form) usual() {
	for _, id := range f.typed["usual"] {
		s := sectionOf(id)
		if s == nil {
			continue
		}
		for _, p := range s.parts {
			said := slices.ContainsFunc(f.check.Seen, func(o home.Seen) bool { return o.Part == p })
			if usualSays(p) && !said {
				f.check.Seen = append(f.check.Seen, home.Seen{Part: p, Values: []string{home.Usual}})
			}
		}
	}
}

// seenFields are the fields from which s would be read.
func seenFields(s home.Seen, typed map[string][]string) {
	for _, side := range sidesOf(s) {
		key := partKey(s.Part, side)
		if len(s.Values) > 0 {
			typed[partPrefix+key] = slices.Clone(s.Values)
		}
		if s.HasNumber {
			typed[numberPrefix+key] = []string{strconv.FormatFloat(s.Number, 'f', -1, 64)}
		}
	}
}

// sidesOf are the sides that s speaks of: both, where a sided part has none.
func sidesOf(s home.Seen) []home.Side {
	if s.Side == "" {
		return sides(s.Part)
	}
	return []home.Side{s.Side}
}
