package app

import (
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus/testutil/promlint"

	"weighbeam/home"
)

var ofMetric = regexp.MustCompile(`(?m)^# TYPE (\w+) `)

// What is measured is named as Prometheus asks (units, totals, help), and is known as ours.
func TestApp_Metrics_AreNamedAsAgreed(t *testing.T) {
	l := startLive(t, home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}, Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox, Topic: "home/1"}}}, noon)
	l.say([]home.Reading{{Source: "box-1", Quantity: home.Load, Time: noon, Value: 5, Clock: home.ByDevice}})
	resp, err := http.Get(l.PagesURL() + "/metrics")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil || resp.StatusCode != http.StatusOK {
		t.Fatalf("%d, %v", resp.StatusCode, err)
	}
	problems, err := promlint.New(strings.NewReader(string(text))).Lint()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
	ours := 0
	for _, m := range ofMetric.FindAllStringSubmatch(string(text), -1) {
		switch {
		case strings.HasPrefix(m[1], "weighbeam_"):
			ours++
		case !strings.HasPrefix(m[1], "go_") && !strings.HasPrefix(m[1], "process_"):
			t.Errorf("%s is not known as ours", m[1])
		}
	}
	if ours < 10 {
		t.Errorf("only %d metrics of ours", ours)
	}
}
