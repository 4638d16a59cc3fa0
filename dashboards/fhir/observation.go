package fhir

import (
	"encoding/json"
	"strconv"
	"strings"
	"time"

	r4 "github.com/samply/golang-fhir-models/fhir-models/fhir"

	"weighbeam/home"
)

const (
	loinc    = "http://loinc.org"
	ucum     = "http://unitsofmeasure.org"
	category = "http://terminology.hl7.org/CodeSystem/observation-category" // HL7 FHIR R4
)

// The LOINC codes of the vital signs (HL7 FHIR R4, value set of the vital signs
// and its profiles).
var vital = map[home.Quantity]struct{ code, words string }{
	home.Weight:      {"29463-7", "Body weight"},
	home.Breaths:     {"9279-1", "Respiratory rate"},
	home.Heartbeats:  {"8867-4", "Heart rate"},
	home.Temperature: {"8310-5", "Body temperature"},
}

// inWords are the quantities that have no code here.
var inWords = map[home.Quantity]string{
	home.Intake:  "food eaten",
	home.Drunk:   "water drunk",
	home.Deposit: "left in the litter box",
	home.Stay:    "time in the litter box",
}

// observation is one reading. The rate of a count is worked out from the count
// and its window, which stand beside it.
func (b *builder) observation(r home.Reading) r4.Observation {
	o := b.said("Observation", r.Key(), r.Time)
	o.Category, o.Code = kindOf(r.Quantity)
	o.ValueQuantity = quantity(r.Value, r.Quantity.Unit())
	if r.Quantity.Counted() {
		o.ValueQuantity = quantity(r.PerMinute(), "/min")
		o.EffectiveDateTime = nil
		o.EffectivePeriod = &r4.Period{Start: to(instant(r.Time)), End: to(instant(r.Time.Add(r.Window)))}
		o.Component = []r4.ObservationComponent{
			{Code: text("counted"), ValueQuantity: quantity(r.Value, "{count}")},
			{Code: text("counted for"), ValueQuantity: quantity(r.Window.Seconds(), "s")},
			{Code: text("the cat was"), ValueString: to(stateWords(r.State))},
		}
	}
	if r.SD > 0 {
		o.Component = append(o.Component, r4.ObservationComponent{Code: text("standard uncertainty"), ValueQuantity: quantity(r.SD, r.Quantity.Unit())})
	}
	if note := strings.TrimSpace(r.Note); note != "" {
		o.Note = []r4.Annotation{{Text: note}}
	}
	b.source(&o, r.Source)
	return o
}

// said is an observation of the cat at a time.
func (b *builder) said(kind, key string, at time.Time) r4.Observation {
	return r4.Observation{Id: to(id(kind, key)), Status: r4.ObservationStatusFinal,
		Subject: to(r4.Reference{Reference: to(url("Patient", b.record.Cat.ID)), Display: to(b.record.Cat.Name)}), EffectiveDateTime: to(instant(at))}
}

func kindOf(q home.Quantity) ([]r4.CodeableConcept, r4.CodeableConcept) {
	if v, ok := vital[q]; ok {
		return []r4.CodeableConcept{coded(category, "vital-signs", "Vital Signs")}, coded(loinc, v.code, v.words)
	}
	words := inWords[q]
	if words == "" {
		words = string(q)
	}
	return nil, text(words)
}

func stateWords(s home.State) string {
	switch s {
	case home.Resting:
		return "awake and resting"
	case home.Active:
		return "active shortly before"
	case home.AtClinic:
		return "at the practice"
	}
	return string(s)
}

// source says who or what measured.
func (b *builder) source(o *r4.Observation, source string) {
	switch source {
	case home.Hand:
		o.Performer = []r4.Reference{{Display: to("a person at home")}}
	case home.Clinic:
		o.Performer = []r4.Reference{{Display: to("the veterinary practice")}}
	default:
		ref := r4.Reference{Display: to(source)}
		if at, ok := b.devices[source]; ok {
			ref.Reference = to(at)
		}
		o.Device = &ref
	}
}

// quantity is a number in a UCUM unit, written with all its digits. What is
// written in braces is a word to people and one to UCUM.
func quantity(v float64, code string) *r4.Quantity {
	n := json.Number(strconv.FormatFloat(v, 'f', -1, 64))
	return &r4.Quantity{Value: &n, Unit: to(strings.Trim(code, "{}")), System: to(ucum), Code: to(code)}
}
