package payload_test

import (
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

const chip = 985112004567890

func arrived() payload.Arrival {
	return payload.Arrival{Time: time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)}
}

// A reader with a topic of its own, in the forms that readers send.
func TestForReader_Forms(t *testing.T) {
	for _, row := range []struct {
		name, how, text, want string // want: part of the error, "" for none
	}{
		{"digits", "", "985112004567890\r\n", ""},
		{"digits with gaps", "number", "985 112 004 567 890", ""},
		{"JSON text", "json:/tag", `{"tag":"985112004567890"}`, ""},
		// A number of 15 digits passes through a float without loss.
		{"JSON number", "json:$.a.tag;time=/t", `{"a":{"tag":985112004567890},"t":"2025-03-03T12:00:00Z"}`, ""},
		{"SenML", "senml", `[{"bn":"box-1/","n":"tag","u":"/","v":985112004567890}]`, ""},
		{"SenML of none", "senml", `[{"bn":"box-1/","n":"tag","v":1}]`, "outside"},
		{"SenML of one", "senml", `[{"bn":"box-1/","n":"tag","v":985112004567890}]`, ""},
		{"no tag", "json:/tag", `{"weight":4}`, "tag"},
		{"a tag that is none", "", "1234", "15 digits"},
		{"an object", "json:/tag", `{"tag":{}}`, "an object"},
		{"no JSON", "json:/tag", `{`, "JSON"},
	} {
		d, err := payload.ForReader(home.Scale{ID: "box-1", TagPayload: row.how})
		if err != nil {
			t.Fatal(err)
		}
		got, err := d([]byte(row.text), arrived())
		if row.want != "" {
			if err == nil || len(got) > 0 || !strings.Contains(err.Error(), row.want) {
				t.Errorf("%s: %+v, %v", row.name, got, err)
			}
			continue
		}
		if err != nil || len(got) != 1 || got[0].Quantity != home.Tag || got[0].Value != chip || got[0].Source != "box-1" {
			t.Errorf("%s: %+v, %v", row.name, got, err)
		}
	}
	for _, how := range []string{"hex", "json:tag", "json:/tag;time=t"} {
		if _, err := payload.ForReader(home.Scale{ID: "box-1", TagPayload: how}); err == nil {
			t.Errorf("%s was taken", how)
		}
	}
}

// A scale that sends the tag beside its load: both are read, and a load without a
// tag is a load.
func TestForScale_TagBesideTheLoad(t *testing.T) {
	d, err := payload.ForScale(home.Scale{ID: "box-1", Payload: "json:/w;seq=/n;tag=/chip"})
	if err != nil {
		t.Fatal(err)
	}
	for text, readings := range map[string]int{
		`{"w":9.4,"n":7,"chip":"985112004567890"}`: 2, `{"w":9.4,"n":7,"chip":""}`: 1, `{"w":9.4,"n":7,"chip":null}`: 1, `{"w":9.4,"n":7,"chip":0}`: 1, `{"w":9.4,"n":7}`: 1,
	} {
		got, err := d([]byte(text), arrived())
		if err != nil || len(got) != readings || got[0].Value != 9.4 || readings == 2 && (got[1].Value != chip || got[1].Seq != 7) {
			t.Errorf("%s: %+v, %v", text, got, err)
		}
	}
	got, err := d([]byte(`{"w":9.4,"n":7,"chip":"12"}`), arrived())
	if err == nil || len(got) != 1 {
		t.Errorf("a load with a tag that is none: %+v, %v", got, err)
	}
}

func FuzzForReader(f *testing.F) {
	f.Add("number", "985112004567890")
	f.Add("json:/tag", `{"tag":985112004567890}`)
	f.Add("json:/tag;time=/t", `{"tag":"985112004567890","t":1741003200}`)
	f.Fuzz(func(t *testing.T, how, text string) {
		d, err := payload.ForReader(home.Scale{ID: "box-1", TagPayload: how})
		if err != nil {
			return
		}
		got, _ := d([]byte(text), arrived())
		for _, r := range got {
			if err := r.Valid(); err != nil {
				t.Errorf("%q by %q: %+v: %v", text, how, r, err)
			}
		}
	})
}
