package app

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"weighbeam/home"
)

// A cat that is added on the page is known at once, is written into the household
// file, and is still there after a start.
func TestHouseholder_Page_ChangesProgramAndFile(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "household.toml")
	before := "# ours\n[[cat]]\nid = \"plum\"\nname = \"Plum\"\n"
	if err := os.WriteFile(file, []byte(before), 0o600); err != nil {
		t.Fatal(err)
	}
	cfg, err := ParseConfig(fmt.Appendf(nil, "data = %q\nlisten = \"127.0.0.1:0\"\nhousehold = %q\n[broker]\nlisten = \"127.0.0.1:0\"\n", filepath.Join(dir, "house.db"), file))
	if err != nil {
		t.Fatal(err)
	}
	quiet := Options{Log: slog.New(slog.NewTextHandler(io.Discard, nil))}
	a, err := Start(context.Background(), cfg, quiet)
	if err != nil {
		t.Fatal(err)
	}
	for path, form := range map[string]url.Values{
		"/household/cat":   {"new": {"1"}, "id": {"sprat"}, "name": {"Sprat"}, "born": {"2021"}, "chip": {"276 000"}},
		"/household/scale": {"new": {"1"}, "id": {"mat"}, "kind": {"floor"}, "topic": {"house/mat"}, "payload": {"json:/a/b"}},
	} {
		if status, at, page := filledIn(t, a, path, form); status != http.StatusOK || at != "/household" {
			t.Fatalf("%s: %d %s\n%s", path, status, at, page)
		}
	}
	if len(a.router.Claimants("house/mat")) != 1 {
		t.Error("the new scale is not listened to")
	}
	a.Stop()
	if kept, err := os.ReadFile(file + ".before"); err != nil || !strings.Contains(string(kept), "plum") {
		t.Errorf("the file as it was: %q, %v", kept, err)
	}
	a, err = Start(context.Background(), cfg, quiet)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Stop()
	c, ok := a.house.Load().Cat("sprat")
	if _, plum := a.house.Load().Cat("plum"); !ok || !plum || c.Chip != "276 000" || !c.BornYear {
		t.Errorf("after a start: %+v", a.house.Load())
	}
}

// A payload that nobody can read is told beside its field by the real reader.
func TestHouseholder_BadPayload_IsTold(t *testing.T) {
	if _, err := (householder{}).Parse([]byte("[[scale]]\nid = \"mat\"\nkind = \"floor\"\npayload = \"morse\"\n")); err == nil || !strings.Contains(err.Error(), "morse") {
		t.Errorf("got %v", err)
	}
}

// What was claimed without the household file, and is not in it, is said at the next
// start, which the file decides.
func TestApp_Start_FileTakesBack_IsSaid(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "household.toml")
	if err := os.WriteFile(file, []byte("[[scale]]\nid = \"same\"\nkind = \"floor\"\ntopic = \"a\"\npayload = \"senml\"\n[[scale]]\nid = \"moved\"\nkind = \"floor\"\ntopic = \"b\"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	db := openStore(t, dir)
	err := db.SetHousehold(t.Context(), home.Household{Cats: []home.Cat{{ID: "sprat", Name: "Sprat"}}, Scales: []home.Scale{
		{ID: "same", Kind: home.Floor, Topic: "a", Unit: "kg"}, {ID: "moved", Kind: home.Floor, Topic: "c", Payload: "number", Unit: "g"}, {ID: "new", Kind: home.Floor, Topic: "d"}}})
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	cfg, err := ParseConfig(fmt.Appendf(nil, "data = %q\nlisten = \"127.0.0.1:0\"\nhousehold = %q\n[broker]\nlisten = \"127.0.0.1:0\"\n", filepath.Join(dir, "house.db"), file))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range [][]string{{`gone="cat sprat"`, `gone="scale moved on c, read as number in g"`, `gone="scale new on d,`}, nil} { // said once
		var said bytes.Buffer
		a, err := Start(t.Context(), cfg, Options{Log: slog.New(slog.NewTextHandler(&said, &slog.HandlerOptions{Level: slog.LevelWarn}))})
		if err != nil {
			t.Fatal(err)
		}
		a.Stop()
		if strings.Count(said.String(), "gone=") != len(want) {
			t.Errorf("said\n%s", &said)
		}
		for _, words := range want {
			if !strings.Contains(said.String(), words) {
				t.Errorf("nothing says %s:\n%s", words, &said)
			}
		}
	}
}
