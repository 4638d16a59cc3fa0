package main

import (
	"bufio"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
)

// On a made-up house in which one cat loses, every budget tells it, a larger one
// no later than a smaller; and a budget that is none is refused.
func TestTune_LargerBudgetsAreNoLater(t *testing.T) {
	t.Parallel()
	unraced(t)
	dir := t.TempDir()
	if out, code := once(t, "", "simulate", "--days", "240", "--seed", "14", "--unwell", "1", dir); code != 0 {
		t.Fatalf("code %d\n%s", code, out)
	}
	args := []string{"tune", "--household", filepath.Join(dir, "household.toml"), "--budgets", "0.02,0.1,1", "--history", filepath.Join(dir, "readings.csv")}
	out, code := once(t, "", append(args, "--json")...)
	if code != 0 {
		t.Fatalf("code %d\n%s", code, out)
	}
	var found []tuned
	for lines := bufio.NewScanner(strings.NewReader(out)); lines.Scan(); {
		var u tuned
		if err := json.Unmarshal(lines.Bytes(), &u); err != nil {
			t.Fatalf("%v: %s", err, lines.Text())
		}
		if u.Cat == "bramble" {
			found = append(found, u)
		}
	}
	if len(found) != 3 {
		t.Fatalf("%d budgets:\n%s", len(found), out)
	}
	for i, u := range found {
		if len(u.Told) == 0 {
			t.Fatalf("budget %g tells nothing", u.Budget)
		}
		if i > 0 && u.Told[0].Raised.After(found[i-1].Told[0].Raised) {
			t.Errorf("budget %g tells it on %s, %g on %s", u.Budget, u.Told[0].Raised, found[i-1].Budget, found[i-1].Told[0].Raised)
		}
	}
	if out, code := once(t, "", args...); code != 0 || !strings.Contains(out, "Bramble") || !strings.Contains(out, "weight-falling") {
		t.Errorf("code %d\n%s", code, out)
	}
	if out, code := once(t, "", append(args, "--budgets", "0")...); code != 1 || !strings.Contains(out, "Give 0.02") {
		t.Errorf("code %d\n%s", code, out)
	}
}
