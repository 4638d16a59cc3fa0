package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"weighbeam/manual"
)

// checkHouse is a running program with a device that may send checks, and the
// settings and the token to reach it. Where it is closed, its pages want a password.
func checkHouse(t *testing.T, closed bool) (p *program, args []string) {
	t.Helper()
	household := write(t, "household.toml", "[[cat]]\nid = \"plum\"\nname = \"Plum\"\n")
	token := write(t, "token", "tablet-in-the-kitchen\n")
	locked := ""
	if closed {
		hash, code := once(t, "sixteen tabby paws\n", "password")
		if code != 0 {
			t.Fatal(hash)
		}
		locked = fmt.Sprintf("[door]\nproxies = [\"127.0.0.1\"]\n[[door.person]]\nname = \"ada\"\npassword_file = %q\n", write(t, "hash", hash))
	}
	config := write(t, "w.toml", fmt.Sprintf("listen = \"127.0.0.1:%d\"\nhousehold = %q\nphone = \"+44 20 7946 0000\"\n[broker]\nlisten = \"127.0.0.1:%d\"\n[[device]]\nname = \"tablet\"\ntoken_file = %q\nsources = [\"hand\"]\n",
		port(t), household, port(t), token)+locked)
	p = launch(t, "serve", "--config", config)
	p.pages() // it answers
	return p, []string{"--config", config, "--token-file", token}
}

// A person hands checks in from a command line; what is on the pages afterwards is
// what was said, and what was not understood is told with what to do.
func TestCheck_BesideTheProgram(t *testing.T) {
	p, reach := checkHouse(t, false)
	whole := write(t, "check.json", `{"id":"a-1","cat":"plum","time":"2025-03-01T08:00:00Z","note":"from a file"}`)
	for _, c := range []struct {
		name string
		args []string
		code int
		says []string
	}{
		// what a keeper with a bathroom scale and a watch has
		{"weight and breaths", []string{"plum", "--with", "71.3", "--without", "67.0", "--breaths", "11/30", "--state", "asleep", "--by", "Ada"}, 0, []string{"Stored, as "}},
		{"seen", []string{"plum", "--seen", "eyes:left=watery,red", "--seen", "body-condition=5"}, 0, []string{"Stored, as "}},
		// the same file sent again is one check
		{"file", []string{"--file", whole}, 0, []string{"Stored, as "}},
		{"file again", []string{"--file", whole}, 0, []string{"Stored before, as "}},
		// what the house refuses, by where it stands
		{"cat", []string{"nobody", "--weight", "4.3"}, 1, []string{"cat: No cat of this name", "Nothing was stored"}},
		{"state", []string{"plum", "--breaths", "11/30"}, 1, []string{"breaths/state: Choose how the cat was"}},
		{"unit", []string{"plum", "--weight", "4.3", "--unit", "stone"}, 1, []string{"weight/unit: "}},
		// what the command refuses
		{"mass", []string{"plum", "--weight", "heavy"}, 1, []string{"no number", "4.31"}},
		{"count", []string{"plum", "--breaths", "11"}, 1, []string{"11/30"}},
		{"sight", []string{"plum", "--seen", "eyes"}, 1, []string{"eyes:left=watery"}},
		{"time", []string{"plum", "--at", "yesterday"}, 1, []string{"2025-03-31T08:00:00Z"}},
		{"no cat", nil, 1, []string{"which cat"}},
		// what cannot wait is said first, stored or not
		{"red flag", []string{"plum", "--red-flag", "collapse"}, 0, []string{"Go to a vet now", "+44 20 7946 0000", "Stored, as "}},
		{"red flag that was seen", []string{"plum", "--seen", "gum-colour=blue"}, 0, []string{"Go to a vet now", "Stored, as "}},
		{"red flag beside a mistake", []string{"plum", "--red-flag", "collapse", "--weight", "heavy"}, 1, []string{"Go to a vet now", "no number", "Stored, as "}},
	} {
		code, out := call(t, append(append([]string{"check"}, c.args...), reach...)...)
		if code != c.code {
			t.Errorf("%s: code %d, want %d\n%s", c.name, code, c.code, out)
		}
		for _, words := range c.says {
			if !strings.Contains(out, words) {
				t.Errorf("%s: does not say %q\n%s", c.name, words, out)
			}
		}
	}
	_, page := get(p.pages() + "/check/plum/history")
	for _, words := range []string{"4.3", "22", "Ada", "from a file", "cannot stand", "heavy"} {
		if !strings.Contains(page, words) {
			t.Errorf("the history does not show %q", words)
		}
	}
}

// Without the token nothing is taken, without a program nothing is lost in silence,
// and a script reads the answer as JSON.
func TestCheck_Reach(t *testing.T) {
	_, reach := checkHouse(t, true)
	if code, out := call(t, "check", "plum", "--note", "x", "--config", reach[1]); code != 1 || !strings.Contains(out, "--token-file") {
		t.Errorf("without the token: code %d\n%s", code, out)
	}
	if code, out := call(t, "check", "plum", "--note", "x", "--url", fmt.Sprintf("http://127.0.0.1:%d", port(t))); code != 1 || !strings.Contains(out, "Start weighbeam serve") {
		t.Errorf("with no program: code %d\n%s", code, out)
	}
	code, out := call(t, append([]string{"check", "plum", "--weight", "4.31", "--json"}, reach...)...)
	var answer manual.CheckAnswer
	if err := json.Unmarshal([]byte(out), &answer); err != nil || code != 0 || answer.ID == "" || answer.Duplicate {
		t.Errorf("code %d, %v: %s", code, err, out)
	}
	if _, err := os.Stat(filepath.Join(filepath.Dir(reach[1]), "weighbeam.db")); err == nil {
		t.Error("the command made a store of its own")
	}
}
