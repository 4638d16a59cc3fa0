package main

import (
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// Where the calendar is not even: a leap day, midnight in the house's zone that is
// another day in UTC, the hour that a spring night lacks and the one that an autumn
// night has twice. Each weighing keeps its moment, and its month is the house's.
func TestData_LeapDayAndChangeOfClocks(t *testing.T) {
	dir := t.TempDir()
	data := filepath.Join(dir, "house.db")
	rows := write(t, "readings.csv", strings.Join([]string{"time,source,quantity,value,unit,cat",
		"2024-02-29T23:30:00+01:00,hand,weight,4.10,kg,mira", // the leap day's last half hour
		"2024-03-01T00:30:00+01:00,hand,weight,4.11,kg,mira", // in UTC it is the leap day still
		"2024-03-31T01:30:00+01:00,hand,weight,4.12,kg,mira",
		"2024-03-31T03:30:00+02:00,hand,weight,4.13,kg,mira", // an hour after the one before
		"2024-10-27T02:30:00+02:00,hand,weight,4.14,kg,mira",
		"2024-10-27T02:30:00+01:00,hand,weight,4.15,kg,mira", // the same by the kitchen clock
		"2025-02-29T12:00:00+01:00,hand,weight,4.16,kg,mira", // there was none
	}, "\n")+"\n")
	settings := write(t, "w.toml", fmt.Sprintf("data = %q\nzone = \"Europe/Berlin\"\nlisten = \"127.0.0.1:%d\"\nhousehold = %q\n[broker]\nlisten = \"127.0.0.1:%d\"\n",
		data, port(t), write(t, "house.toml", "[[cat]]\nid = \"mira\"\nname = \"Mira\"\n"), port(t)))
	if code, out := call(t, "import", "--config", settings, rows); !strings.Contains(out, "7 rows: 6 stored, 0 already there, 1 set aside") {
		t.Fatalf("import: code %d\n%s", code, out)
	}
	p := launch(t, "serve", "--config", settings)
	url := p.pages()
	eventually(t, "the cat's page calls the weight one of the past", func() (bool, string) {
		status, page := get(url + "/cats/mira?period=all")
		return status == 200 && strings.Contains(page, "Weight when last weighed") && strings.Contains(page, "27 Oct 2024") && !strings.Contains(page, "just started"), page
	})
	if code := p.interrupt(); code != 0 {
		t.Errorf("ended with %d", code)
	}
	code, out := call(t, "export", "--config", settings)
	if code != 0 {
		t.Fatal(out)
	}
	moments := regexp.MustCompile(`(?m)^2024-\S+?Z`).FindAllString(out, -1)
	if want := []string{"2024-02-29T22:30:00Z", "2024-02-29T23:30:00Z", "2024-03-31T00:30:00Z", "2024-03-31T01:30:00Z",
		"2024-10-27T00:30:00Z", "2024-10-27T01:30:00Z"}; !slices.Equal(moments, want) {
		t.Errorf("exported %v, want %v", moments, want)
	}
	code, out = call(t, "sheet", "mira", "--config", settings, "--from", "2024-02-01", "--to", "2024-11-30", "--format", "html", "--out", "-")
	text := strings.Join(strings.Fields(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(out, " ")), " ")
	for _, want := range []string{"Oct 2024 .{0,60} 2 by hand", "Mar 2024 .{0,60} 3 by hand", "Feb 2024 .{0,60} 1 by hand"} { // weighings of a month
		if code != 0 || !regexp.MustCompile(want).MatchString(text) {
			t.Errorf("the sheet does not say %q: code %d\n%s", want, code, text)
		}
	}
}
