package payload

import (
	"fmt"
	"strings"

	"github.com/go-json-experiment/json"

	"weighbeam/home"
)

// ForReader returns the decoder for what the tag reader of s sends on its own topic,
// as TagPayload says: number (also when empty), the digits of the tag; json:PATH, the
// tag in JSON, perhaps with ;time=PATH; or senml.
func ForReader(s home.Scale) (Decoder, error) {
	kind, arg, _ := strings.Cut(s.TagPayload, ":")
	switch kind {
	case "", "number":
		return limited(func(b []byte, a Arrival) ([]home.Reading, error) {
			return tagOf(s, string(b[:min(len(b), 2*maxNumber)]), draft{}, a)
		}), nil
	case "senml":
		return limited(func(b []byte, a Arrival) ([]home.Reading, error) { return SenMLJSON(b, a, s) }), nil
	case "json":
		path, rest, timed := strings.Cut(arg, ";time=")
		shape := jsonShape{scale: s}
		var err error
		if shape.tag, err = newFinder(path); err == nil && timed {
			shape.time, err = newFinder(rest)
		}
		if err != nil {
			return nil, fmt.Errorf("reader of scale %q: %w", s.ID, err)
		}
		return limited(shape.readTag), nil
	}
	return nil, home.Hinted("read payload", "Use number, json:PATH or senml.", "reader of scale %q: unknown payload %q", s.ID, s.TagPayload)
}

// readTag decodes a payload that says nothing but a tag.
func (j jsonShape) readTag(b []byte, a Arrival) ([]home.Reading, error) {
	if err := shallow(b); err != nil {
		return nil, err
	}
	var doc any
	if err := json.Unmarshal(b, &doc); err != nil {
		return nil, fmt.Errorf("no JSON: %w", plainJSON(err))
	}
	var d draft
	if err := j.fill(&d, doc); err != nil {
		return nil, err
	}
	return j.tagIn(doc, d, a)
}

// tagIn is the tag that a document carries; nothing where it carries none.
func (j jsonShape) tagIn(doc any, d draft, a Arrival) ([]home.Reading, error) {
	val, err := j.tag(doc)
	if err != nil {
		return nil, fmt.Errorf("tag: %w", err)
	}
	switch v := val.(type) {
	case float64:
		return tagOf(j.scale, fmt.Sprintf("%.0f", v), d, a)
	case string:
		return tagOf(j.scale, v, d, a)
	}
	return nil, fmt.Errorf("the tag is no number but %s", jsonKind(val))
}

// tagOf is the reading of a tag at s, dated as d is.
func tagOf(s home.Scale, text string, d draft, a Arrival) ([]home.Reading, error) {
	n, err := home.ChipNumber(text)
	if err != nil {
		return nil, err
	}
	d.Reading = home.Reading{Source: s.ID, Quantity: home.Tag, Value: n, Seq: d.Seq}
	d.unit = home.Tag.Unit()
	return one(d, a)
}

// beside adds the tag that a load carries, where it carries one. A scale whose reader
// has seen nobody sends an empty tag, or zero, or none.
func (j jsonShape) beside(readings []home.Reading, doc any, d draft, a Arrival) ([]home.Reading, error) {
	val, err := j.tag(doc)
	if err != nil || val == nil || val == "" || val == 0.0 {
		return readings, nil
	}
	tags, err := j.tagIn(doc, d, a)
	if err != nil {
		return readings, err
	}
	return append(readings, tags...), nil
}
