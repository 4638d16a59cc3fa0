package fhir

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"
	r4 "github.com/samply/golang-fhir-models/fhir-models/fhir"

	"weighbeam/home"
)

// Record is what a bundle is made of.
type Record struct {
	Cat      home.Cat
	Scales   []home.Scale   // those that are known; others are named only
	Readings []home.Reading // of the cat, of any quantity but load
	Checks   []home.HomeCheck
	// Corrections are what people put right; what they replaced is not handed in.
	Corrections []home.Correction
	Made        time.Time
}

// Bundle returns r as a FHIR R4 Bundle in JSON.
func Bundle(r Record) ([]byte, error) {
	b := &builder{record: r, devices: map[string]string{}, ofCheck: map[string][]r4.Reference{}}
	b.add("Patient", r.Cat.ID, b.patient())
	for _, s := range r.Scales {
		b.devices[s.ID] = url("Device", s.ID)
		b.add("Device", s.ID, device(s))
	}
	for _, reading := range r.Readings {
		b.add("Observation", reading.Key(), b.observation(reading))
	}
	for _, c := range r.Checks {
		b.check(c)
	}
	for _, c := range r.Corrections {
		b.add("Provenance", c.ID, b.provenance(c))
	}
	if b.err != nil {
		return nil, fmt.Errorf("write FHIR: %w", b.err)
	}
	return json.MarshalIndent(r4.Bundle{
		Id: to(id("Bundle", r.Cat.ID+r.Made.UTC().Format(time.RFC3339Nano))), Language: to("en"),
		Type: r4.BundleTypeCollection, Timestamp: to(instant(r.Made)), Entry: b.entries,
	}, "", " ")
}

type builder struct {
	record  Record
	devices map[string]string         // address by scale
	ofCheck map[string][]r4.Reference // what stands here of each check
	entries []r4.BundleEntry
	err     error
}

// add appends a resource under an address that follows from its kind and key.
func (b *builder) add(kind, key string, resource any) {
	raw, err := json.Marshal(resource)
	if err != nil && b.err == nil {
		b.err = err
	}
	b.entries = append(b.entries, r4.BundleEntry{FullUrl: to(url(kind, key)), Resource: raw})
}

// space is the name space of all ids, so that the same thing has the same id in
// every bundle.
var space = uuid.NewSHA1(uuid.NameSpaceURL, []byte("urn:weighbeam"))

func id(kind, key string) string  { return uuid.NewSHA1(space, []byte(kind+"/"+key)).String() }
func url(kind, key string) string { return "urn:uuid:" + id(kind, key) }

func instant(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.999999Z07:00") }

func to[T any](v T) *T { return &v }

func text(words string) r4.CodeableConcept { return r4.CodeableConcept{Text: to(words)} }

func coded(system, code, words string) r4.CodeableConcept {
	return r4.CodeableConcept{Coding: []r4.Coding{{System: to(system), Code: to(code)}}, Text: to(words)}
}
