package history

import (
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

var noon = time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)

func TestMapping_Reading_EachColumn(t *testing.T) {
	row := Row{"_time": noon.Add(-time.Hour), "_value": 4500.0, "scale": "box-1", "what": "weight", "u": "g", "who": "juniper", "n": int64(7)}
	for _, c := range []struct {
		name   string
		m      Mapping
		change Row
		want   home.Reading
		wrong  string
	}{
		// what is the same in all rows is said; what differs stands in columns
		{"said", Mapping{Source: "hall", Quantity: "weight", Unit: "g"}, nil, home.Reading{Source: "hall", Quantity: home.Weight, Value: 4.5, Clock: home.ByDevice}, ""},
		{"columns", Mapping{Source: "@scale", Quantity: "@what", Unit: "@u", Cat: "@who"}, nil,
			home.Reading{Source: "box-1", Quantity: home.Weight, Value: 4.5, Cat: "juniper", Clock: home.ByDevice}, ""},
		// whole numbers come as another type, and numbers in quotes as text
		{"whole", Mapping{Source: "hall", Quantity: "weight"}, Row{"_value": int64(4)}, home.Reading{Source: "hall", Quantity: home.Weight, Value: 4, Clock: home.ByDevice}, ""},
		{"text", Mapping{Source: "hall", Quantity: "weight"}, Row{"_value": "4.5"}, home.Reading{Source: "hall", Quantity: home.Weight, Value: 4.5, Clock: home.ByDevice}, ""},
		// what a person measured is dated by a person
		{"hand", Mapping{Source: "hand", Quantity: "weight", Cat: "juniper"}, Row{"_value": 4.5}, home.Reading{Source: "hand", Quantity: home.Weight, Value: 4.5, Cat: "juniper", Clock: home.ByHand}, ""},
		{"no column", Mapping{Source: "@box", Quantity: "weight"}, nil, home.Reading{}, `no column "box"`},
		{"no number", Mapping{Source: "hall", Quantity: "weight"}, Row{"_value": true}, home.Reading{}, "no number"},
		{"no value", Mapping{Source: "hall", Quantity: "weight"}, Row{"_value": nil}, home.Reading{}, "no number"},
		{"no time", Mapping{Source: "hall", Quantity: "weight"}, Row{"_time": nil}, home.Reading{}, "_time"},
		// grams taken for kilograms are no weight of a cat
		{"range", Mapping{Source: "hall", Quantity: "weight"}, nil, home.Reading{}, "4500"},
		{"unit", Mapping{Source: "hall", Quantity: "weight", Unit: "stone"}, nil, home.Reading{}, "stone"},
		{"quantity", Mapping{Source: "hall", Quantity: "mood"}, nil, home.Reading{}, "mood"},
		{"source", Mapping{Source: "The Hall", Quantity: "weight", Unit: "g"}, nil, home.Reading{}, "slug"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := Row{}
			for k, v := range row {
				r[k] = v
			}
			for k, v := range c.change {
				r[k] = v
			}
			got, err := c.m.Reading(r, noon)
			if c.wrong != "" {
				if err == nil || !strings.Contains(err.Error(), c.wrong) {
					t.Errorf("%v, want %q in it", err, c.wrong)
				}
				return
			}
			c.want.Time, c.want.Arrived = noon.Add(-time.Hour), noon
			if err != nil || got != c.want {
				t.Errorf("got %+v, %v, want %+v", got, err, c.want)
			}
		})
	}
}

func TestMapping_Valid_SaysWhatIsMissing(t *testing.T) {
	if err := (Mapping{Quantity: "weight"}).Valid(); err == nil || !strings.Contains(home.Hint(err), "--source") {
		t.Errorf("%v, hint %q", err, home.Hint(err))
	}
	if err := (Mapping{Source: "hall", Quantity: "weight"}).Valid(); err != nil {
		t.Error(err)
	}
}
