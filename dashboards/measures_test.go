package dashboards_test

import (
	"strings"
	"testing"

	"weighbeam/dashboards/fakehouse"
)

// Everything that is known of a cat has a chart with a table, a picture and a
// file; what is not known has none.
func TestCat_OfKept_DrawsEachMeasure(t *testing.T) {
	s := serve(fakehouse.Kept())
	body := get(s, "/cats/plum").Body.String()
	bare := get(serve(fakehouse.Lived()), "/cats/plum").Body.String()
	for name, row := range map[string]struct{ heading, csv string }{
		"heart":       {"Heart beats", "hand,heartbeats,40,{count},plum,15,resting"},
		"temperature": {"Temperature", "hand,temperature,38.2,Cel,plum"},
		"eaten":       {"Food eaten a day", "bowl,intake,14,g,plum"},
		"drunk":       {"Water drunk a day", "fountain,drunk,40,mL,plum"},
		"litter":      {"Litter-box visits a day", "hall-box,stay,65,s,plum"},
		"left":        {"Left in the litter box, each visit", "hall-box,deposit,22,g,plum"},
		"condition":   {"Body condition, 1 to 9", "hand,body-condition,5,,plum"},
		"lumps":       {"Lumps, longest side", `"lump: shoulder, left",lump-size,9,,plum`},
	} {
		if !strings.Contains(body, "<h2>"+row.heading+"</h2>") || !strings.Contains(body, "Table: "+row.heading) || !strings.Contains(body, "/cats/plum/"+name+".csv?period=6m") {
			t.Errorf("%s is not on the page with its table and files", name)
		}
		if strings.Contains(bare, "<h2>"+row.heading+"</h2>") {
			t.Errorf("%s is drawn though nothing is known of it", name)
		}
		says(t, get(s, "/cats/plum/"+name+".svg?size=low"), 200, `height="180"`, "<svg", row.heading+", Plum, 6 months")
		says(t, get(s, "/cats/plum/"+name+".csv"), 200, row.csv)
		says(t, get(s, "/cats/plum/"+name+".png"), 200, "PNG")
	}
}

// Food of a day is added up; the day's line in the table holds the sum.
func TestCat_Eaten_IsAddedUpByDay(t *testing.T) {
	body := get(serve(fakehouse.Kept()), "/cats/plum?period=6w").Body.String()
	at := strings.Index(body, "Table: Food eaten a day")
	if at < 0 {
		t.Fatal("no table of food")
	}
	// The newest day has meals of 14 and 18 g, the one before of 15 and 19.
	table := body[at:]
	table = table[:strings.Index(table, "</table>")]
	for _, want := range []string{`<th scope="row">28 Mar 2026</th><td class="n">1</td><td class="n">32</td>`, `<th scope="row">27 Mar 2026</th><td class="n">1</td><td class="n">34</td>`} {
		if !strings.Contains(table, want) {
			t.Errorf("the table does not hold %s:\n%s", want, table)
		}
	}
}

// What was done stands on the charts by letters and in the legend by words, with
// the goal and the fastest pace towards it.
func TestCat_Care_IsDrawnAndExplained(t *testing.T) {
	s := serve(fakehouse.Kept())
	says(t, get(s, "/cats/plum?period=1y"), 200,
		"9 Sep 2025, visit to the practice: yearly visit", "28 Nov 2025, new food: from tins", "18 Mar 2026, the practice said",
		"the fastest pace that the goal allows, 1.0 % a week", "what happened, as told under the weight", `aria-current="true">a year<`)
	says(t, get(s, "/cats/plum/weight.svg?period=1y"), 200, ">a<", "goal 3.70 kg", "stroke-dasharray=\"7 3 1 3\"")
	if strings.Contains(get(s, "/cats/barnaby/weight.svg?period=1y").Body.String(), "goal") {
		t.Error("another cat's goal is drawn")
	}
	// Before it was agreed there is no goal, and what happened later is not drawn.
	if body := get(s, "/cats/plum/weight.svg?from=2025-06-01&to=2025-08-01").Body.String(); strings.Contains(body, "goal") || strings.Contains(body, ">a<") {
		t.Error("what was to come is drawn")
	}
}
