package app

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"weighbeam/home"
	"weighbeam/store"
)

// Of two people who add a cat from the same page at the same moment one is told that
// the other did, and both cats live there in the end.
func TestChanger_TwoAtOnce_NeitherIsLost(t *testing.T) {
	a := startTold(t, filepath.Join(t.TempDir(), "house.db"), "")
	for _, pair := range [][2]string{{"fig", "plum"}, {"moss", "reed"}, {"kit", "sprat"}} {
		was := a.house.Load().Mark()
		status, pages := [2]int{}, [2]string{}
		var both sync.WaitGroup
		for i, id := range pair {
			both.Go(func() {
				status[i], _, pages[i] = filledIn(t, a, "/household/cat", url.Values{"was": {was}, "new": {"1"}, "id": {id}, "name": {"Ms " + id}})
			})
		}
		both.Wait()
		late := 0
		if status[1] == http.StatusConflict {
			late = 1
		}
		if status[late] != http.StatusConflict || status[1-late] != http.StatusOK || !strings.Contains(pages[late], `value="Ms `+pair[late]+`"`) || !strings.Contains(pages[late], a.house.Load().Mark()) {
			t.Fatalf("%v\n%s", status, pages[late])
		}
		if status, _, page := filledIn(t, a, "/household/cat", url.Values{"new": {"1"}, "id": {pair[late]}, "name": {"Ms " + pair[late]}}); status != http.StatusOK {
			t.Fatalf("%d\n%s", status, page)
		}
	}
	if h, err := a.store.Household(t.Context()); err != nil || len(h.Cats) != 6 {
		t.Errorf("%+v, %v", h.Cats, err)
	}
}

// What somebody wrote into the household file meanwhile is kept: it holds at once, and
// who changes the house on a page is told.
func TestChanger_FileWrittenMeanwhile_IsTakenIn(t *testing.T) {
	path := file(t, "household.toml", "[[cat]]\nid = \"plum\"\nname = \"Plum\"\n", 0o600)
	db := openStore(t, t.TempDir())
	defer db.Close()
	c := &changer{db: db, file: path}
	if err := c.adopt(t.Context()); err != nil {
		t.Fatal(err)
	}
	seen, err := db.Household(t.Context())
	if err != nil || len(seen.Cats) != 1 {
		t.Fatalf("%+v, %v", seen, err)
	}
	byHand := "# ours\n[[cat]]\nid = \"plum\"\nname = \"Plummy\"\n"
	if err := os.WriteFile(path, []byte(byHand), 0o600); err != nil {
		t.Fatal(err)
	}
	want := seen
	want.Cats = append(want.Cats, home.Cat{ID: "fig", Name: "Fig"})
	var live []string
	c.live = func(_ context.Context, h home.Household) { live = append(live, h.Cats[0].Name) }
	if err := c.change(t.Context(), became(want).unlessOther(seen.Mark())); !errors.Is(err, home.ErrChanged) || home.Hint(err) == "" {
		t.Fatal(err)
	}
	now, err := db.Household(t.Context())
	if text, failed := os.ReadFile(path); err != nil || failed != nil || string(text) != byHand || now.Cats[0].Name != "Plummy" || strings.Join(live, " ") != "Plummy" {
		t.Fatalf("%v, %v; the file: %s, the store: %+v, what runs heard of %v", err, failed, text, now, live)
	}
	want.Cats[0].Name = "Plummy"
	if err := c.change(t.Context(), became(want).unlessOther(now.Mark())); err != nil {
		t.Fatal(err)
	}
	if h, err := ReadHousehold(path); err != nil || h.Mark() != want.Mark() {
		t.Errorf("the file says %+v, %v", h, err)
	}
}

// A change that cannot be kept in full is not kept in part.
func TestChanger_Fails_ChangesNothing(t *testing.T) {
	plum := home.Household{Cats: []home.Cat{{ID: "plum", Name: "Plum"}}}
	two := home.Household{Cats: append(plum.Cats, home.Cat{ID: "fig", Name: "Fig"})}
	for name, row := range map[string]func(c *changer, db *store.DB) edit{
		// Seen before anything is written.
		"what runs cannot live with it": func(c *changer, _ *store.DB) edit {
			c.fits = func(context.Context, home.Household) error { return errors.New("no") }
			return became(two)
		},
		"a payload that nobody reads": func(*changer, *store.DB) edit {
			bad := two
			bad.Scales = []home.Scale{{ID: "mat", Kind: home.Floor, Topic: "x", Payload: "morse"}}
			return became(bad)
		},
		"no room beside the file": func(c *changer, _ *store.DB) edit {
			if err := os.Mkdir(c.file+".before", 0o700); err != nil {
				t.Fatal(err)
			}
			return became(two)
		},
		// The file is written by then, and put back.
		"the store fails": func(_ *changer, db *store.DB) edit {
			return func(home.Household, []byte) (home.Household, []byte, error) {
				db.Close()
				return became(two)(plum, nil)
			}
		},
	} {
		text, err := FormatHousehold(plum)
		if err != nil {
			t.Fatal(err)
		}
		path, folder := file(t, "household.toml", string(text), 0o600), t.TempDir()
		db := openStore(t, folder)
		c := &changer{db: db, file: path}
		if err := c.adopt(t.Context()); err != nil {
			t.Fatal(err)
		}
		c.live = func(context.Context, home.Household) { t.Errorf("%s: what runs was told", name) }
		if err := c.change(t.Context(), row(c, db)); err == nil {
			t.Errorf("%s: it was taken", name)
		}
		db.Close()
		db = openStore(t, folder)
		if h, err := db.Household(t.Context()); err != nil || h.Mark() != plum.Mark() {
			t.Errorf("%s: the store has %+v, %v", name, h, err)
		}
		if now, err := os.ReadFile(path); err != nil || string(now) != string(text) {
			t.Errorf("%s: the file says\n%s%v", name, now, err)
		}
		db.Close()
	}
}

// Where who is told could not be changed with the household, that is made up for.
func TestChannelWatch_Untold_IsMadeUpFor(t *testing.T) {
	a := startTold(t, filepath.Join(t.TempDir(), "house.db"), "")
	h := home.Household{Units: "lb"}
	a.house.Store(&h)
	a.untold.Store(true)
	if err := (&channelWatch{app: a}).round(t.Context()); err != nil || a.now().Units.text != "lb" || a.untold.Load() {
		t.Errorf("%v; it goes by %q", err, a.now().Units.text)
	}
}
