package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The pages, the sheet in each of its forms, the API's CSV and a replay say the
// same of one cat: every weighing to the last digit, the level with its interval,
// and what was found in the same words.
func TestNumbers_AreTheSameEverywhere(t *testing.T) {
	t.Parallel()
	unraced(t)
	began := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	days := slipping(began)[:125]
	rows := slices.Concat(days...)
	weighed, found := replayed(t, rows)

	data := filepath.Join(t.TempDir(), "house.db")
	h := startTimed(t, data, litterHouse(t, data, newPhone(t).web.URL), began.AddDate(0, 0, 100))
	h.post(slices.Concat(days[:100]...))
	for _, day := range days[100:] {
		h.live(day)
		if timeOf(t, day[0]).Truncate(24 * time.Hour).Equal(found.At.Truncate(24 * time.Hour)) {
			break // later in the day its figures may move on
		}
	}
	seen := func(path string) string { return page(t, h.url+path) }

	for name, got := range map[string]map[string]string{
		"the chart's CSV":   csvWeights(t, seen("/cats/juniper/weight.csv?period=all")),
		"the sheet's CSV":   csvWeights(t, seen("/cats/juniper/sheet.csv")),
		"FHIR":              fhirWeights(t, seen("/cats/juniper/sheet.fhir")),
		"the command's CSV": csvWeights(t, beside(t, h, "csv")),
	} {
		if len(got) < 300 {
			t.Errorf("%s holds %d weighings", name, len(got))
		}
		for at, kg := range got {
			if weighed[at] != kg {
				t.Errorf("%s: %s kg at %s, the replay %q", name, kg, at, weighed[at])
			}
		}
	}

	level := regexp.MustCompile(`Weight</dt><dd><b>([\d.]+ kg)</b> <small>([\d.]+ to [\d.]+)</small>`).FindStringSubmatch(seen("/"))
	if level == nil {
		t.Fatal("the house page gives no level with its interval")
	}
	onSheet := regexp.MustCompile(`at the end</dt><dd><b>` + level[1] + `</b> <small>` + level[2] + `</small>`)
	for name, body := range map[string]string{"the cat's page": seen("/cats/juniper"), "the sheet": seen("/cats/juniper/sheet"),
		"the sheet's file": seen("/cats/juniper/sheet.html"), "the command's sheet": beside(t, h, "html")} {
		if want := level[1] + "</b> <small>" + level[2]; !strings.Contains(body, want) || strings.Contains(name, "sheet") && !onSheet.MatchString(body) {
			t.Errorf("%s does not say %s", name, want)
		}
		if !strings.Contains(plainly(body), found.Text) {
			t.Errorf("%s does not say %q", name, found.Text)
		}
	}
}

// page is what an address answers.
func page(t *testing.T, url string) string {
	t.Helper()
	status, body := get(url)
	if status != 200 {
		t.Fatalf("%s: %d\n%s", url, status, body)
	}
	return body
}

// plainly is the words of a page.
func plainly(body string) string { return html.UnescapeString(body) }

// stamped is a time as the maps of weights here name it.
func stamped(at time.Time) string { return at.UTC().Format(time.RFC3339Nano) }

type foundLine struct {
	Event, Sign, Text string
	At                time.Time
	Cat               string
	Start             time.Time
	End               time.Time
	MassKg            *float64 `json:"mass_kg"`
}

// replayed runs the rows through the replay: the weighings by time, and the
// finding that weight falls.
func replayed(t *testing.T, rows []string) (map[string]string, foundLine) {
	t.Helper()
	household := write(t, "replay.toml", "[[cat]]\nid = \"juniper\"\nname = \"Juniper\"\nborn = 2014-05-02\nsex = \"female\"\nneutered = true\n[[scale]]\nid = \"box-1\"\nkind = \"litter-box\"\n")
	readings := write(t, "readings.csv", "time,source,quantity,value,unit\n"+strings.Join(rows, "\n")+"\n")
	code, out := call(t, "replay", "--json", "--household", household, readings)
	if code != 0 {
		t.Fatal(out)
	}
	weights, found := map[string]string{}, foundLine{}
	for line := range strings.Lines(out) {
		var f foundLine
		if err := json.Unmarshal([]byte(line), &f); err != nil {
			continue // the bar
		}
		switch {
		case f.Event == "visit" && f.Cat == "juniper":
			weights[stamped(f.End)] = strconv.FormatFloat(*f.MassKg, 'f', -1, 64)
		case f.Event == "finding" && f.Sign == "weight-falling":
			found = f
		}
	}
	if found.Text == "" {
		t.Fatalf("the replay finds nothing:\n%s", out)
	}
	return weights, found
}

func csvWeights(t *testing.T, text string) map[string]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(rows) == 0 {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, r := range rows[1:] {
		if r[2] == "weight" {
			out[r[0]] = r[3]
		}
	}
	return out
}

func fhirWeights(t *testing.T, text string) map[string]string {
	t.Helper()
	var bundle struct {
		Entry []struct {
			Resource struct {
				ResourceType      string
				EffectiveDateTime time.Time
				ValueQuantity     struct{ Value json.Number }
			}
		}
	}
	if err := json.Unmarshal([]byte(text), &bundle); err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, e := range bundle.Entry {
		if e.Resource.ResourceType == "Observation" {
			out[stamped(e.Resource.EffectiveDateTime)] = e.Resource.ValueQuantity.Value.String()
		}
	}
	return out
}

// beside is what the command writes while the program runs, by the same clock.
func beside(t *testing.T, h *timedHouse, form string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "sheet")
	p := launchBy(t, h.clock, "sheet", "juniper", "--config", h.config, "--format", form, "--out", path)
	<-p.done
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(fmt.Errorf("%w\n%s", err, p.output()))
	}
	return string(content)
}
