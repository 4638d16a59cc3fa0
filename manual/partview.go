package manual

import (
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
	"weighbeam/manual/draw"
)

// partView is one part of the cat as the template sees it.
type partView struct {
	Field, ID, Name, Known string
	Many                   bool
	Choices                []choice
	Number                 string // name of the field of its number, "" for none
	NumberLabel            string
	NumberKnown            string
	Form                   *formView
}

// choice is one value that a part can have.
type choice struct {
	option
	Name    string        // of its field
	Drawing template.HTML // "" for none
	Flag    string        // the red flag that it amounts to, in words; "" for none
}

func (v *formView) part(p home.Part, side home.Side, u usuals) partView {
	key := partKey(p, side)
	t, _ := p.Trait()
	out := partView{Field: partPrefix + key, Many: t.Many, Name: v.words.partName(key), Known: u.known(v, p, side), Form: v}
	if t.Whole {
		out.Field = numberPrefix + key
		out.score(v, p, t)
	} else {
		out.values(v, p, t)
		if t.Unit != "" {
			out.Number, out.NumberLabel = numberPrefix+key, v.words.say("number."+string(p))
		}
	}
	out.ID = anchor(out.Field)
	return out
}

func (o *partView) values(v *formView, p home.Part, t home.PartTrait) {
	if !t.Many {
		o.Choices = append(o.Choices, o.choice(v, "", v.words.say("form.skip"), ""))
	}
	o.Choices = append(o.Choices, o.choice(v, home.Usual, v.words.say("form.as-usual"), ""))
	for i, value := range t.Values {
		var drawing template.HTML
		if p == home.Muscle {
			drawing = draw.Muscle(i)
		}
		c := o.choice(v, value, v.words.say("value."+value), drawing)
		if flag, ok := (home.Seen{Part: p, Values: []string{value}}).RedFlag(); ok {
			c.Flag = v.words.say("flag." + string(flag))
		}
		o.Choices = append(o.Choices, c)
	}
}

// score offers each whole number of a score.
func (o *partView) score(v *formView, p home.Part, t home.PartTrait) {
	o.Choices = []choice{o.choice(v, "", v.words.say("form.skip"), "")}
	for n := int(t.Min); n <= int(t.Max); n++ {
		value := strconv.Itoa(n)
		if p == home.BodyScore {
			o.Choices = append(o.Choices, o.choice(v, value, value+". "+v.words.say("score."+value), draw.Body(n)))
			continue
		}
		o.Choices = append(o.Choices, o.choice(v, value, v.words.say("face-score."+value), ""))
	}
}

func (o *partView) choice(v *formView, value, words string, drawing template.HTML) choice {
	chosen := slices.Contains(v.typed[o.Field], value) || value == "" && v.typed.Get(o.Field) == ""
	return choice{option: option{value, words, chosen}, Name: o.Field, Drawing: drawing}
}

// usuals is what was seen of each part before, newest first, without "as usual".
type usuals map[string][]home.Seen

func newUsuals(past []home.HomeCheck) usuals {
	u := usuals{}
	for _, c := range past {
		for _, s := range c.Seen {
			if s.Is(home.Usual) {
				continue
			}
			for _, side := range sidesOf(s) {
				key := partKey(s.Part, side)
				u[key] = append(u[key], s)
			}
		}
	}
	return u
}

// known says what is usual for the cat, where it was seen thrice or more, or what
// was seen last.
func (u usuals) known(v *formView, p home.Part, side home.Side) string {
	seen := u[partKey(p, side)]
	if len(seen) == 0 {
		return ""
	}
	if n, value := most(seen); n >= 3 && 2*n > len(seen) {
		return v.words.say("form.known-usual", "cat", v.Name, "value", v.words.seen(value))
	}
	return v.words.say("form.known-last", "value", v.words.seen(seen[0]))
}

// most is what was seen most often, and how often.
func most(seen []home.Seen) (n int, which home.Seen) {
	times := map[string]int{}
	for _, s := range seen {
		key := strings.Join(s.Values, " ") + strconv.FormatFloat(s.Number, 'f', -1, 64)
		times[key]++
		if times[key] > n {
			n, which = times[key], s
		}
	}
	return n, which
}

// seen is what was seen, in words, without the part.
func (c catalogue) seen(s home.Seen) string {
	var said []string
	for _, value := range s.Values {
		if value == home.Usual {
			said = append(said, c.say("form.as-usual"))
			continue
		}
		said = append(said, c.say("value."+value))
	}
	if t, _ := s.Part.Trait(); s.HasNumber {
		n := strconv.FormatFloat(s.Number, 'f', -1, 64)
		if !t.Whole {
			n += " " + t.Unit
		}
		said = append(said, n)
	}
	return strings.Join(said, ", ")
}

// lumpView is one known lump as the template sees it.
type lumpView struct {
	home.Lump
	First, Name, Before string
	Form                *formView
}

// Field is the name of a field of the lump.
func (l lumpView) Field(what string) string { return lumpPrefix + l.ID + "." + what }

func (v *formView) lumpViews(past []home.HomeCheck, zone *time.Location) []lumpView {
	known := knownLumps(past)
	var out []lumpView
	for id, times := range known {
		newest := times[len(times)-1].Lump
		l := lumpView{Lump: newest, Form: v, Name: v.words.lumpPlace(newest)}
		l.ID = id
		if !newest.FirstSeen.IsZero() {
			l.First = newest.FirstSeen.Format(time.DateOnly)
			l.Name = v.words.say("lump.known", "place", l.Name, "since", newest.FirstSeen.Format("2 Jan 2006"))
		}
		var sizes []string
		for _, t := range times {
			if mm := t.SizeMm(); mm > 0 {
				sizes = append(sizes, v.words.say("lump.size-on", "mm", strconv.FormatFloat(mm, 'f', -1, 64), "when", t.In(zone).Format("2 Jan 2006")))
			}
		}
		if len(sizes) > 0 {
			l.Before = v.words.say("lump.was", "sizes", strings.Join(sizes, "; "))
		}
		out = append(out, l)
	}
	slices.SortFunc(out, func(a, b lumpView) int { return strings.Compare(a.ID, b.ID) })
	return out
}

// lumpPlace is where a lump is, in words.
func (c catalogue) lumpPlace(l home.Lump) string {
	words := c.say("place." + string(l.Place))
	if l.Side != "" {
		words += ", " + c.say("side."+string(l.Side))
	}
	return words
}

// Places are the places that a new lump may have.
func (v *formView) Places() []option {
	var all []string
	for _, p := range home.Places() {
		all = append(all, string(p))
	}
	return v.options("new-place", "place", all)
}

// Outline is the cat on which a place can be touched, with the known lumps marked.
func (v *formView) Outline() template.HTML {
	var marked []home.Place
	for _, s := range v.Sections {
		for _, l := range s.Lumps {
			marked = append(marked, l.Place)
		}
	}
	return draw.Outline(v.words.say("lump.outline"), marked)
}
