package dashboards_test

import (
	"strings"
	"testing"
	"time"

	"weighbeam/dashboards"
	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

// Who is heard of and is not in the household is told on the page of the house and among
// what was set aside, with what becomes of the readings.
func TestStrangers_AreTold(t *testing.T) {
	h := fakehouse.Lived()
	for _, page := range []string{"/", "/set-aside"} {
		if body := get(serve(h), page).Body.String(); strings.Contains(body, "Not in the household") {
			t.Errorf("%s tells of strangers where there are none", page)
		}
	}
	h.Status = append(h.Status, home.SourceStatus{Source: "box-9", Last: fakehouse.Now.Add(-2 * time.Hour), Arrived: fakehouse.Now, Count: 12})
	h.NamedBeside = []home.NamedCat{{Cat: "felix", Source: "bowl", Count: 1, Last: fakehouse.Now.Add(-time.Hour)}, {Cat: "sprat", Source: home.Hand, Count: 2, Last: fakehouse.Now}}
	for _, page := range []string{"/", "/set-aside"} {
		says(t, get(serve(h), page), 200, "Not in the household", `<a href="/sources/box-9">box-9</a>`, "12 readings, the last 2 hours ago", "felix is named by 1 reading of bowl", "sprat is named by 2 readings by hand", "to the household file")
	}
	says(t, get(serve(h, func(o *dashboards.Options) { o.Householder = h }), "/set-aside"), 200, `on the page <a href="/household">`)
}
