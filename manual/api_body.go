package manual

import (
	"encoding/json"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// checkBody is a home check as a program sends it. Numbers keep their digits: from
// them comes the step of a scale that is not said.
type checkBody struct {
	ID          string      `json:"id"`   // the sender's own, or the Idempotency-Key of the request: the same sent twice is one check
	Cat         string      `json:"cat"`  // id
	Time        *time.Time  `json:"time"` // RFC 3339; nil: now
	By          string      `json:"by"`
	Note        string      `json:"note"`
	RedFlags    []string    `json:"red_flags"`
	Weight      *massBody   `json:"weight"`
	Breaths     *countBody  `json:"breaths"`
	Heartbeats  *countBody  `json:"heartbeats"`
	Temperature *heatBody   `json:"temperature"`
	Seen        []seenBody  `json:"seen"`
	Lumps       []lumpBody  `json:"lumps"`
	Given       []givenBody `json:"given"`
}

// massBody is a weight: Value, or With and Without the cat on a person's arm.
type massBody struct {
	Value   json.Number `json:"value"`
	With    json.Number `json:"with"`
	Without json.Number `json:"without"`
	Step    json.Number `json:"step"`
	Unit    string      `json:"unit"` // UCUM: kg, [lb_av]; empty: kg
}

type countBody struct {
	Count  json.Number `json:"count"`
	Window json.Number `json:"window_s"`
	State  string      `json:"state"`
}

type heatBody struct {
	Value json.Number `json:"value"`
	Unit  string      `json:"unit"` // UCUM: Cel, [degF]; empty: Cel
}

type seenBody struct {
	Part   string      `json:"part"`
	Side   string      `json:"side"`
	Values []string    `json:"values"`
	Number json.Number `json:"number"`
}

// lumpBody is a lump: a known one by its id, or a new one by its place.
type lumpBody struct {
	ID     string      `json:"id"`
	Place  string      `json:"place"`
	Side   string      `json:"side"`
	Length json.Number `json:"length_mm"`
	Width  json.Number `json:"width_mm"`
	Height json.Number `json:"height_mm"`
	First  string      `json:"first_seen"` // a date
	Gone   bool        `json:"gone"`
	Note   string      `json:"note"`
}

type givenBody struct {
	Kind   string `json:"kind"`
	What   string `json:"what"`
	Amount string `json:"amount"`
	Taken  string `json:"taken"`
}

// pointerPrefix leads from a field of the form to where it stands in the body.
const pointerPrefix = "at "

// filling writes a body into the fields of the form.
type filling struct{ url.Values }

func (v filling) put(field, pointer, text string) {
	v.Set(field, text)
	v.at(field, pointer)
}

func (v filling) at(field, pointer string) { v.Set(pointerPrefix+field, pointer) }

// typed is the form as a person would have filled it in.
func (b checkBody) typed(now time.Time, zone *time.Location) url.Values {
	v := filling{url.Values{}}
	at := now
	if b.Time != nil {
		at = *b.Time
	}
	v.Set("id", b.ID)
	v.put("cat", "/cat", b.Cat)
	v.put("when", "/time", at.In(zone).Format(time.RFC3339Nano))
	v.put("by", "/by", b.By)
	v.put("note", "/note", b.Note)
	v.Values["flag"] = b.RedFlags
	b.Weight.fill(v)
	b.Breaths.fill(v, breathing, "/breaths")
	b.Heartbeats.fill(v, beating, "/heartbeats")
	if t := b.Temperature; t != nil {
		v.put("temperature", "/temperature/value", t.Value.String())
		v.put("temperature-unit", "/temperature/unit", or(t.Unit, "Cel"))
	}
	for i, s := range b.Seen {
		s.fill(v, "/seen/"+strconv.Itoa(i))
	}
	for i, l := range b.Lumps {
		l.fill(v, "/lumps/"+strconv.Itoa(i))
	}
	for i, g := range b.Given {
		for what, text := range map[string]string{"kind": g.Kind, "what": g.What, "amount": g.Amount, "taken": g.Taken} {
			v.put(givenField(i, what), "/given/"+strconv.Itoa(i)+"/"+what, text)
		}
	}
	return v.Values
}

func or(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

func (b *massBody) fill(v filling) {
	if b == nil {
		return
	}
	unit := or(b.Unit, "kg")
	if unit == "[lb_av]" {
		unit = "lb" // as the form calls it
	}
	v.put("unit", "/weight/unit", unit)
	v.put("weight", "/weight/value", b.Value.String())
	v.put("with", "/weight/with", b.With.String())
	v.put("without", "/weight/without", b.Without.String())
	v.put("step", "/weight/step", b.Step.String())
}

func (b *countBody) fill(v filling, c counting, pointer string) {
	if b == nil {
		return
	}
	v.put(c.field, pointer+"/count", b.Count.String())
	v.put(c.window, pointer+"/window_s", or(b.Window.String(), strconv.Itoa(c.usual)))
	v.put(c.state, pointer+"/state", b.State)
}

func (s seenBody) fill(v filling, pointer string) {
	key := partKey(home.Part(s.Part), home.Side(s.Side))
	v.Values[partPrefix+key] = s.Values
	v.at(partPrefix+key, pointer+"/values")
	v.put(numberPrefix+key, pointer+"/number", s.Number.String())
}

func (l lumpBody) fill(v filling, pointer string) {
	field := func(what string) string { return "new-" + what }
	if l.ID != "" {
		field = func(what string) string { return lumpPrefix + l.ID + "." + what }
	}
	for what, text := range map[string]string{"place": l.Place, "side": l.Side, "note": l.Note} {
		v.put(field(what), pointer+"/"+what, text)
	}
	v.put(field("first"), pointer+"/first_seen", l.First)
	for what, n := range map[string]json.Number{"length": l.Length, "width": l.Width, "height": l.Height} {
		v.put(field(what), pointer+"/"+what+"_mm", n.String())
	}
	if l.Gone {
		v.put(field("gone"), pointer+"/gone", "1")
	}
}

// unknown lists what the form has no field for, or but one.
func (b checkBody) unknown() []WrongAt {
	var wrong []WrongAt
	told := map[string]bool{}
	say := func(pointer, detail string) { wrong = append(wrong, WrongAt{pointer, detail}) }
	once := func(pointer, what string) {
		if told[what] {
			say(pointer, "This is told of already. Send a second new lump, or another look at the same part, in another check.")
		}
		told[what] = true
	}
	if b.ID != "" && b.Time == nil {
		say("/time", "Say when it was, so that the same check sent again can be known by it.")
	}
	for i, flag := range b.RedFlags {
		if !slices.Contains(home.RedFlags(), home.RedFlag(flag)) {
			say("/red_flags/"+strconv.Itoa(i), "Use one of "+listed(home.RedFlags())+".")
		}
	}
	for i, s := range b.Seen {
		at := "/seen/" + strconv.Itoa(i)
		switch p := home.Part(s.Part); {
		case !slices.Contains(home.Parts(), p):
			say(at+"/part", "Use one of "+listed(home.Parts())+".")
		case !slices.Contains(sides(p), home.Side(s.Side)):
			say(at+"/side", "Use one of “"+listed(sides(p))+"” for this part.")
		case len(s.Values) == 0 && s.Number == "":
			say(at, "Give values or a number.")
		}
		once(at, "part "+s.Part+" "+s.Side)
	}
	if n := len(b.Given); n > givenRows {
		say("/given", "At most "+strconv.Itoa(givenRows)+" in one check; send the rest in another.")
	}
	for i, l := range b.Lumps { // one new lump in one check: none has an id yet
		once("/lumps/"+strconv.Itoa(i), "lump "+l.ID)
	}
	return wrong
}

func listed[T ~string](all []T) string {
	words := make([]string, len(all))
	for i, w := range all {
		words[i] = string(w)
	}
	return strings.Join(words, ", ")
}
