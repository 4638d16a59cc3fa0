package dashboards_test

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"weighbeam/dashboards"
	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

func TestSheet_OfCatWithFindings_HoldsWhatAPracticeAsks(t *testing.T) {
	h := fakehouse.Lived()
	h.Home.Cats[2].Chip = "276000000000123"
	h.Checked = append(h.Checked, home.HomeCheck{ID: "c9", Cat: "plum", Time: fakehouse.Now.AddDate(0, 0, -2), RedFlags: []home.RedFlag{home.HardBreath}})
	h.Counted = append(h.Counted,
		home.Reading{Source: home.Hand, Quantity: home.Heartbeats, Cat: "plum", State: home.Resting, Window: 15 * time.Second, Time: fakehouse.Now.AddDate(0, 0, -4), Value: 40},
		home.Reading{Source: home.Hand, Quantity: home.Temperature, Cat: "plum", Time: fakehouse.Now.AddDate(0, 0, -4), Value: 38.3, Note: "ear"})
	says(t, get(serve(h), "/cats/plum/sheet"), 200,
		"Female, 8 years old, neutered, born 12 Sep 2017, chip 276000000000123.", "28 Mar 2025 to 28 Mar 2026",
		"Sleeping breaths are rising. Call the practice today.", "about 6 Feb 2026",
		"3.89 kg", "&#43;0.1 %", "Over 3 months", "Over 6 months", "Mar 2026", "3.87 to 3.91", "attic-box, hall-box",
		"15 breaths in 30 s, asleep: 30 a minute", "16 breaths in 15 s, at the practice: 64 a minute",
		"40 heartbeats in 15 s, resting: 160 a minute", "temperature 38.3 °C (ear)",
		"struggling to breathe", "Slept on the radiator.", "standard uncertainty of one about 15 g", "about 41 g",
		"Not measured in this period: food, water, litter-box visits, body", home.Caution)
	says(t, get(serve(h), "/cats/barnaby/sheet"), 200, "Nothing is open", "not the same as a healthy cat", "Nobody did a home check in this period.", "None counted asleep in this period.")
}

// What was eaten, drunk and left stands by month, a day that was measured.
func TestSheet_Daily_CountsOnlyMeasuredDays(t *testing.T) {
	h := fakehouse.Lived()
	h.Home.Scales = append(h.Home.Scales, home.Scale{ID: "tap", Kind: home.Water})
	at := time.Date(2026, 2, 10, 8, 0, 0, 0, time.UTC)
	visit := func(source string, event home.Event, hours int, left float64) {
		h.Visited = append(h.Visited, home.Visit{Source: source, Event: event, Cat: "plum", Start: at.Add(time.Duration(hours) * time.Hour),
			End: at.Add(time.Duration(hours)*time.Hour + 70*time.Second), MassKg: 3.9, LeftG: left, HasLeft: true})
	}
	// 30 g on one day and 20 g on another, nothing known of the days between.
	visit("bowl", home.Meal, 0, -20)
	visit("bowl", home.Meal, 5, -10)
	visit("bowl", home.Meal, 72, -20)
	visit("tap", home.Drink, 1, -35)
	visit("hall-box", home.CatVisit, 2, 18)
	visit("hall-box", home.CatVisit, 6, 31)
	visit("hall-box", home.CatVisit, 9, 24)
	// A stay on a floor scale is no visit to the litter box, another cat's no visit of hers.
	visit("tap", home.CatVisit, 9, 500)
	h.Visited = append(h.Visited, home.Visit{Source: "hall-box", Event: home.CatVisit, Cat: "barnaby", Start: at, End: at, LeftG: 99, HasLeft: true})
	w := get(serve(h), "/cats/plum/sheet")
	says(t, w, 200,
		`<th scope="row">Feb 2026</th><td>food</td><td class="n">25 g</td><td class="n">2</td><td class="n">3</td>`,
		`<th scope="row">Feb 2026</th><td>water</td><td class="n">35 mL</td><td class="n">1</td><td class="n">1</td>`,
		`<th scope="row">Feb 2026</th><td class="n">3.0</td><td class="n">70</td><td class="n">24</td><td class="n">1</td>`,
		"Not measured in this period: heart beats, temperature, body")
}

// A sheet of days that are past says what was then, not what is now.
func TestSheet_OfPastDays_EndsThere(t *testing.T) {
	h := fakehouse.Lived()
	w := get(serve(h), "/cats/mustard/sheet?from=2025-06-01&to=2025-12-31")
	says(t, w, 200, "1 Jun 2025 to 31 Dec 2025", "Nothing is open", "Dec 2025", "Jun 2025", `value="2025-12-31"`, "weight.svg?from=2025-06-01&amp;to=2025-12-31&amp;size=print")
	for _, wrong := range []string{`row">Mar 2026`, `row">May 2025`, "4.28 kg"} {
		if strings.Contains(w.Body.String(), wrong) {
			t.Errorf("it says %q", wrong)
		}
	}
	// The buttons ask for the same days.
	says(t, w, 200, `href="/cats/mustard/sheet.pdf?from=2025-06-01&amp;to=2025-12-31"`, `sheet.fhir?from=2025-06-01&amp;to=2025-12-31`)
	// What was found since is not kept back.
	says(t, w, 200, "found after this period")
}

func TestSheet_DaysThatMakeNoSense_AreSaid(t *testing.T) {
	s := serve(fakehouse.Lived())
	for _, c := range []struct{ query, period, said string }{
		// the wrong way round: what is meant is plain
		{"from=2025-12-31&to=2025-06-01", "1 Jun 2025 to 31 Dec 2025", ""},
		// no dates, and days to come: the last year, and it says so
		{"from=2025-06-01&to=yesterday", "28 Mar 2025 to 28 Mar 2026", "as 2026-03-28. This is the last year instead."},
		{"from=2031-01-01", "28 Mar 2025 to 28 Mar 2026", "have not been yet. This is the last year instead."},
		// an end alone: the year before it
		{"to=2024-06-01", "2 Jun 2023 to 1 Jun 2024", ""},
	} {
		w := get(s, "/cats/mustard/sheet?"+c.query)
		says(t, w, 200, c.period, c.said)
		if c.said == "" && strings.Contains(w.Body.String(), "instead") {
			t.Errorf("%s: complained of", c.query)
		}
	}
}

func TestSheet_Files_AreWhatTheySay(t *testing.T) {
	s := serve(fakehouse.Lived())
	for _, row := range []struct{ form, mime, start, how string }{
		{"pdf", "application/pdf", "%PDF-", "inline"},
		{"html", "text/html; charset=utf-8", "<!doctype html>", "attachment"},
		{"fhir", "application/fhir+json", "{\n", "attachment"},
		{"csv", "text/csv; charset=utf-8", "time,source,quantity,value,unit,cat", "attachment"},
	} {
		w := get(s, "/cats/plum/sheet."+row.form)
		if w.Code != 200 || w.Header().Get("Content-Type") != row.mime || !strings.HasPrefix(w.Body.String(), row.start) {
			t.Errorf("%s: %d %q %.40q", row.form, w.Code, w.Header().Get("Content-Type"), w.Body.String())
		}
		if want := row.how + `; filename="plum-sheet-2026-03-28.` + dashboards.SheetForm(row.form).Ending() + `"`; w.Header().Get("Content-Disposition") != want {
			t.Errorf("%s: %q, want %q", row.form, w.Header().Get("Content-Disposition"), want)
		}
		if w := get(s, "/cats/ghost/sheet."+row.form); w.Code != 404 || w.Header().Get("Content-Disposition") != "" {
			t.Errorf("%s of nobody: %d", row.form, w.Code)
		}
	}
	if a4, letter := get(s, "/cats/plum/sheet.pdf").Body.Bytes(), get(s, "/cats/plum/sheet.pdf?paper=letter").Body.Bytes(); bytes.Equal(a4, letter) {
		t.Error("A4 and Letter are the same")
	}
}

// The one-file form needs nothing else: no address of this house is in it.
func TestSheet_HTML_StandsAlone(t *testing.T) {
	body := get(serve(fakehouse.Lived()), "/cats/plum/sheet.html").Body.String()
	for _, want := range []string{`src="data:image/svg`, "@page", "3.89 kg", home.Caution} {
		if !strings.Contains(body, want) {
			t.Errorf("it does not hold %q", want)
		}
	}
	for _, wrong := range []string{`href="`, `src="/`, "<link", "<script"} {
		if strings.Contains(body, wrong) {
			t.Errorf("it holds %q", wrong)
		}
	}
}

// What a command writes is what the page offers.
func TestSheets_WriteWhatThePageOffers(t *testing.T) {
	h := fakehouse.Lived()
	write := dashboards.Sheets(h, h, dashboards.Options{Now: func() time.Time { return fakehouse.Now }, Zone: time.UTC})
	for _, form := range []dashboards.SheetForm{dashboards.PDF, dashboards.HTML, dashboards.CSV, dashboards.FHIR} {
		var out bytes.Buffer
		r := dashboards.SheetRequest{Cat: "mustard", Form: form, From: time.Date(2025, 9, 1, 0, 0, 0, 0, time.UTC), To: time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC)}
		if err := write(context.Background(), &out, r); err != nil {
			t.Fatal(err)
		}
		if page := get(serve(h), "/cats/mustard/sheet."+string(form)+"?from=2025-09-01&to=2026-02-01"); !bytes.Equal(out.Bytes(), page.Body.Bytes()) {
			t.Errorf("%s: %d bytes, the page's %d", form, out.Len(), page.Body.Len())
		}
	}
	if err := write(context.Background(), &bytes.Buffer{}, dashboards.SheetRequest{Cat: "ghost", Form: dashboards.PDF}); !errors.Is(err, home.ErrNotFound) {
		t.Errorf("nobody: %v", err)
	}
	h.Err = errors.New("no luck")
	if err := write(context.Background(), &bytes.Buffer{}, dashboards.SheetRequest{Cat: "mustard", Form: dashboards.CSV}); err == nil {
		t.Error("a store that fails makes a sheet")
	}
}

// What people saw, gave and did stands on the sheet, as it was last and before.
func TestSheet_OfKeptCat_HoldsLooksLumpsAndCare(t *testing.T) {
	h := fakehouse.Kept()
	w := get(serve(h), "/cats/plum/sheet")
	says(t, w, 200,
		// Scores with their change, and what was as always apart from them.
		`<th scope="row">body condition</th><td>5 of 9</td><td>26 Mar 2026</td><td>6 of 9</td><td>27 Jan 2026</td>`,
		`<th scope="row">muscle condition</th><td>mild loss</td><td>26 Mar 2026</td><td>normal</td>`,
		`<th scope="row">ears, left</th><td>dark wax</td><td>27 Jan 2026</td><td></td>`,
		"Looked at and as always: gait and coat.",
		"Pain face on 26 Mar 2026: 1 of 6 points that could be scored, a share of 0.17",
		// Lumps with sizes then and now, on the outline.
		"Shoulder, left: 9 × 7 × 4 mm on 26 Mar 2026; 6 × 5 mm on 27 Jan 2026; first seen 23 Jan 2026; moves under the skin.",
		"Hind leg, right: not measured", "Tail: not there any more", `class="outline"`,
		// Food and medicines, spelled differently but the same.
		`<th scope="row">food</th><td>dry food, hillside, 30 g</td><td>26 Mar 2026</td><td>most</td><td class="n">2</td>`,
		"Drops from the practice, 2 drops", "medicine started: drops, twice a day", "new food: from tins to dry food, hillside",
		"weight goal: 3.70 kg, at most 1.0 % a week, agreed with Dr Okafor", "the practice said: heart sounds clear", "visit to the practice: yearly visit",
		"40 heartbeats in 15 s", "temperature 38.2 °C",
		"People put one entry right in this period, the last on 28 Jan 2026")
	if strings.Contains(w.Body.String(), "Not measured in this period") {
		t.Error("everything was measured, and it says that something was not")
	}
	says(t, get(serve(fakehouse.Lived()), "/cats/plum/sheet"), 200,
		"Not measured in this period: heart beats, temperature, food, water, litter-box visits, body and muscle condition and other looks, lumps, diet and medicines.")
}

// A sheet about breathing shows the breaths on the page that is read.
func TestSheet_AboutBreathing_ShowsBreathsFirst(t *testing.T) {
	h := fakehouse.Lived()
	for cat, first := range map[string]bool{"plum": true, "mustard": false, "barnaby": false} {
		page := get(serve(h), "/cats/"+cat+"/sheet").Body.String()
		if got := strings.Index(page, ">Breaths<") < strings.Index(page, ">Weight<"); got != first {
			t.Errorf("%s: breaths first %v, want %v", cat, got, first)
		}
	}
}
