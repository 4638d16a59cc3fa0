package payload

import (
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// What is no SenML is called by what it is, not by the types of this program.
func TestSenML_OfAnotherKind_IsCalledByName(t *testing.T) {
	decode, err := ForScale(home.Scale{ID: "box-1", Kind: home.Floor, Payload: "senml"})
	if err != nil {
		t.Fatal(err)
	}
	for payload, want := range map[string]string{
		"9.4": "it is a number", `{"n":"load"}`: "it is one object", `[9]`: `at "/0": a record is an object`, `"x"`: "it is a text",
		"four kilos and a half": "text that is not in quotes", "null and more": "at byte",
	} {
		_, err := decode([]byte(payload), Arrival{Time: time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC)})
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "Go ") {
			t.Errorf("%s: %v", payload, err)
		}
	}
}
