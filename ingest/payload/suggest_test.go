package payload

import (
	"slices"
	"testing"

	"weighbeam/home"
)

func TestSuggest_Forms(t *testing.T) {
	for _, row := range []struct {
		payload string
		want    []string
	}{
		// a plain number, also one that is a weight only in grams
		{"9437", []string{"number"}},
		{"4,52 kg", []string{"number"}},
		// SenML that names another source can only be read by place
		{`[{"bn":"box-1:","n":"load","u":"kg","v":4.5}]`, []string{"json:/0/v"}},
		{`[{"n":"load","u":"kg","v":4.5}]`, []string{"senml", "json:/0/v"}},
		// numbers by their place, those that speak of a mass first; text that is a number counts
		{`{"battery":87,"scale":{"weight_g":"4512"},"name":"box","ok":true}`, []string{"json:/scale/weight_g", "json:/battery"}},
		{`{"a/b":{"c~d":1},"e;f":2}`, []string{"json:/a~1b/c~0d"}},
		{"scale,room=hall weight=4.5,battery=87i,name=\"x\" 1700000000000000000", []string{"line:weight", "line:battery"}},
		{"time,source,quantity,value\n2025-03-03T04:05:06Z,trial,load,4.5\n", []string{"csv"}},
		// nothing with a number in it
		{"online", nil}, {"", nil}, {`"4.5 apples and more"`, nil}, {"{", nil}, {"\xff\xfe", nil},
	} {
		got := Suggest([]byte(row.payload))
		if !slices.Equal(got, row.want) {
			t.Errorf("%s: %q, want %q", row.payload, got, row.want)
		}
	}
}

// What is suggested can be used, whatever a stranger sends.
func FuzzSuggest(f *testing.F) {
	for _, s := range []string{"4.5", `{"a":[1,{"b":"2 kg"}]}`, `{"":{"~":1}}`, "m f=1", "m,t=v f=1i,g=2u 5", `[{"n":"load","v":1}]`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		for _, kind := range Suggest(b) {
			if _, err := ForScale(home.Scale{ID: "box-1", Kind: home.Floor, Payload: kind}); err != nil {
				t.Errorf("%q of %q cannot be used: %v", kind, b, err)
			}
		}
	})
}
