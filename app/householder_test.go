package app

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
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
	cfg, err := ParseConfig(fmt.Appendf(nil, "data = %q\nlisten = \"127.0.0.1:0\"\nhousehold = %q\n", filepath.Join(dir, "house.db"), file))
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
