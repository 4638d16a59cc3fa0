package fhir

import (
	r4 "github.com/samply/golang-fhir-models/fhir-models/fhir"

	"weighbeam/home"
)

// provenance says that an entry was put right: what stands here in its place, by
// whom and why. What was replaced is named and does not stand here.
func (b *builder) provenance(c home.Correction) r4.Provenance {
	old := r4.Reference{Identifier: &r4.Identifier{Value: to(c.Target)}, Display: to("an earlier " + string(c.Matter))}
	p := r4.Provenance{Id: to(id("Provenance", c.ID)), Target: b.inPlace(c), Recorded: instant(c.At),
		Activity: to(text("put right")), Reason: []r4.CodeableConcept{text(c.Why)},
		Agent:  []r4.ProvenanceAgent{{Who: r4.Reference{Display: to(person(c.By))}}},
		Entity: []r4.ProvenanceEntity{{Role: r4.ProvenanceEntityRoleRevision, What: old}}}
	if c.Void() {
		p.Activity, p.Entity[0].Role = to(text("taken back")), r4.ProvenanceEntityRoleRemoval
	}
	return p
}

// inPlace is what took the place of an entry, or the cat it was about.
func (b *builder) inPlace(c home.Correction) []r4.Reference {
	if seen := b.ofCheck[c.Replacement]; c.Matter == home.OfCheck && len(seen) > 0 {
		return seen
	}
	for _, r := range b.record.Readings {
		if c.Matter == home.OfReading && r.Key() == c.Replacement {
			return []r4.Reference{{Reference: to(url("Observation", r.Key()))}}
		}
	}
	return []r4.Reference{{Reference: to(url("Patient", b.record.Cat.ID)), Display: to(b.record.Cat.Name)}}
}
