package fhir

import (
	"strings"
	"time"

	r4 "github.com/samply/golang-fhir-models/fhir-models/fhir"

	"weighbeam/home"
)

// The extension that says a patient is an animal, and the codes of its third
// part (HL7 FHIR R4, extension patient-animal; R4B value set animal-genderstatus).
const (
	animal       = "http://hl7.org/fhir/StructureDefinition/patient-animal"
	genderStatus = "http://hl7.org/fhir/animal-genderstatus"
)

// patient is the cat. The species is told in words: a code for it would be from
// memory.
func (b *builder) patient() r4.Patient {
	c := b.record.Cat
	p := r4.Patient{Id: to(id("Patient", c.ID)), Name: []r4.HumanName{{Text: to(c.Name)}}, Gender: to(gender(c.Sex)),
		Extension: []r4.Extension{{Url: animal, Extension: []r4.Extension{{Url: "species", ValueCodeableConcept: to(text("Felis catus, the domestic cat"))}}}}}
	if c.Neutered { // the program does not tell a cat that is not from one of whom it is not known
		p.Extension[0].Extension = append(p.Extension[0].Extension,
			r4.Extension{Url: "genderStatus", ValueCodeableConcept: to(coded(genderStatus, "neutered", "neutered"))})
	}
	switch {
	case c.Born.IsZero():
	case c.BornYear:
		p.BirthDate = to(c.Born.Format("2006"))
	default:
		p.BirthDate = to(c.Born.Format(time.DateOnly))
	}
	if chip := strings.TrimSpace(c.Chip); chip != "" {
		p.Identifier = []r4.Identifier{{Type: to(text("microchip")), Value: to(chip)}}
	}
	return p
}

func gender(sex string) r4.AdministrativeGender {
	switch sex {
	case "female":
		return r4.AdministrativeGenderFemale
	case "male":
		return r4.AdministrativeGenderMale
	}
	return r4.AdministrativeGenderUnknown
}

func device(s home.Scale) r4.Device {
	return r4.Device{Id: to(id("Device", s.ID)), Type: to(text("scale, " + strings.ReplaceAll(string(s.Kind), "-", " "))),
		DeviceName: []r4.DeviceDeviceName{{Name: s.ID, Type: r4.DeviceNameTypeUserFriendlyName}}}
}
