package store

import (
	"reflect"
	"testing"

	"weighbeam/home"
)

func TestDB_SetHousehold_TellsOnlyChanges(t *testing.T) {
	db := fresh(t)
	h := home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}}
	for range 2 {
		if err := db.SetHousehold(t.Context(), h); err != nil {
			t.Fatal(err)
		}
	}
	if end, err := db.JournalEnd(t.Context()); err != nil || end != 1 {
		t.Errorf("journal has %d entries, %v, want 1", end, err)
	}
	if got, err := db.Household(t.Context()); err != nil || !reflect.DeepEqual(got, h) {
		t.Errorf("got %+v, %v", got, err)
	}
	if err := db.SetHousehold(t.Context(), home.Household{Cats: []home.Cat{{ID: "Not A Slug"}}}); err == nil {
		t.Error("a malformed household was taken")
	}
}

// Who is told changes nothing that was measured: nobody has to look at it again. A
// secret goes with the contact whose it is.
func TestDB_SetHousehold_ContactsAndSecrets(t *testing.T) {
	db := fresh(t)
	h := home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}}
	ada, ben := home.Contact{ID: "ada", Way: home.ByService}, home.Contact{ID: "ben", Way: home.ByTopic, To: "house/said"}
	for _, contacts := range [][]home.Contact{nil, {ada, ben}, {ada}} {
		var secrets []Secret
		for _, c := range contacts {
			secrets = append(secrets, Secret{c.ID, "of " + c.ID})
		}
		h.Contacts = contacts
		if err := db.SetHousehold(t.Context(), h, secrets...); err != nil {
			t.Fatal(err)
		}
	}
	if end, err := db.JournalEnd(t.Context()); err != nil || end != 1 {
		t.Errorf("journal has %d entries, %v, want 1", end, err)
	}
	secrets, err := db.Secrets(t.Context())
	if err != nil || len(secrets) != 1 || secrets["ada"] != "of ada" {
		t.Errorf("secrets %v, %v", secrets, err)
	}
	h.Contacts = []home.Contact{ada, ada}
	if err := db.SetHousehold(t.Context(), h, Secret{"ada", "another"}); err == nil {
		t.Error("somebody is told twice")
	}
	if secrets, err := db.Secrets(t.Context()); err != nil || secrets["ada"] != "of ada" {
		t.Errorf("what was refused left the secrets %v, %v", secrets, err)
	}
}
