// Package fhir writes what is known of one cat as an HL7 FHIR R4 Bundle.
//
// It guarantees that every reading handed in is one Observation with the same
// number, time and unit, and that each code is one of a published table: LOINC
// and UCUM as the FHIR R4 vital signs list them, the status of an animal's sex as
// the patient-animal extension binds it. What has no such code here is told in
// words: the species, scores, what a person saw. The same record gives the same
// bundle, so that one sent twice can be known.
package fhir
