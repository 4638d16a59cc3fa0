package home

import (
	"fmt"
	"testing"
	"time"
)

func TestHousehold_Strangers(t *testing.T) {
	now := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	long := now.AddDate(0, 0, -31)
	h := Household{Cats: []Cat{{ID: "juniper"}}, Scales: []Scale{{ID: "box-1"}}}
	scales, cats := h.Strangers([]SourceStatus{
		{Source: "box-1", Arrived: now}, {Source: Hand, Arrived: now}, {Source: Clinic, Arrived: now}, // all known
		{Source: "box-9", Arrived: now, Last: long}, // says now what was long ago
		{Source: "box-0", Arrived: long},            // was taken down
	}, []NamedCat{{Cat: "juniper", Last: now}, {Cat: "felix", Last: now.AddDate(0, 0, -29)}, {Cat: "moss", Last: long}}, now)
	if got := fmt.Sprint(len(scales), len(cats)); got != "1 1" || scales[0].Source != "box-9" || cats[0].Cat != "felix" {
		t.Errorf("%+v, %+v", scales, cats)
	}
}
