package dashboards_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

// What a file held is dismissed together, once for all of its rows; what came since the
// page was drawn stays.
func TestSetAside_Dismiss(t *testing.T) {
	h := fakehouse.Lived()
	row := func(n int, ago time.Duration) home.SetAside {
		return home.SetAside{ID: int64(90 - n), Arrived: fakehouse.Now.Add(-ago), Way: home.Imported, Topic: home.RowOf("in.csv", n), Payload: []byte("yesterday,box-1"), Reason: "time"}
	}
	h.Aside = append([]home.SetAside{row(3, time.Minute), row(2, time.Minute)}, h.Aside...)
	all := len(h.Aside)
	s := claiming(h)
	page := get(s, "/set-aside")
	says(t, page, 200, "in.csv line 2", "yesterday,box-1", "Dismiss the rows of in.csv", "Dismiss what came on "+cellar)
	for _, once := range []string{`name="of" value="in.csv"`, `name="of" value="` + cellar + `"`} {
		if n := strings.Count(page.Body.String(), once); n != 1 {
			t.Errorf("%s stands there %d times", once, n)
		}
	}
	seen := regexp.MustCompile(`value="in.csv"><input type="hidden" name="seen" value="([^"]+)"`).FindStringSubmatch(page.Body.String())
	if seen == nil {
		t.Fatalf("nothing says up to when:\n%s", page.Body)
	}
	h.Aside = append([]home.SetAside{row(4, 0)}, h.Aside...) // imported while somebody looked
	w := post(s, "/set-aside/dismiss", url.Values{"of": {"in.csv"}, "seen": {seen[1]}})
	if w.Code != http.StatusSeeOther || len(h.Aside) != all-1 {
		t.Fatalf("status %d, %d are left of %d", w.Code, len(h.Aside), all+1)
	}
	says(t, get(s, w.Header().Get("Location")), 200, "2 dismissed", "in.csv line 4")
	if w := post(s, "/set-aside/dismiss", url.Values{"of": {"in.csv"}}); w.Code == http.StatusSeeOther || len(h.Aside) != all-1 {
		t.Errorf("without saying up to when: status %d, %d are left", w.Code, len(h.Aside))
	}
	if w := post(serve(h), "/set-aside/dismiss", url.Values{"of": {"in.csv"}, "seen": {seen[1]}}); w.Code == http.StatusSeeOther {
		t.Error("dismissed where nothing can be changed")
	}
}
