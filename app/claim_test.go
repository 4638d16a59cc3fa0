package app

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/store"
)

const claimHouse = `# who lives here
[[cat]]
id = "juniper"
name = "Juniper" # the old lady

[[scale]] # in the hall
id      = "box-1"
kind    = "litter-box"
topic   = "home/litter/1" # the first
payload = 'number'
unit    = "g"
cats    = ["juniper"]

[[scale]]
id = "bare"
kind = "floor"

# the end
`

// The household file keeps what a person wrote into it; only the entry changes.
func TestClaim_InFile_ChangesOnlyTheEntry(t *testing.T) {
	for _, row := range []struct {
		name  string
		claim Claim
		gone  []string // lines that go
		come  []string // lines that come
	}{
		{"a scale without a topic", Claim{Scale: home.Scale{ID: "bare", Topic: "x/y", Payload: "json:/a", Unit: "[oz_av]", Sends: home.Weight}},
			nil, []string{`topic = 'x/y'`, `payload = 'json:/a'`, `unit = '[oz_av]'`, `sends = 'weight'`}},
		// A comment behind a value stays; what is no longer said goes.
		{"a scale that moves", Claim{Scale: home.Scale{ID: "box-1", Topic: "it's/here", Payload: "senml"}, Move: true},
			[]string{`topic   = "home/litter/1" # the first`, `payload = 'number'`, `unit    = "g"`},
			[]string{`topic   = "it's/here" # the first`, `payload = 'senml'`}},
		{"a new scale", Claim{Scale: home.Scale{ID: "box-2", Kind: home.Feeder, Topic: "x", Payload: "number", Unit: "g"}},
			nil, []string{"", "payload = 'number'", "[[scale]]", "id = 'box-2'", "kind = 'feeder'", "topic = 'x'", "unit = 'g'"}},
		// Nothing new is said, nothing is written.
		{"as it is", Claim{Scale: home.Scale{ID: "box-1", Topic: "home/litter/1", Payload: "number", Unit: "g"}}, nil, nil},
	} {
		path := filepath.Join(t.TempDir(), "household.toml")
		if err := os.WriteFile(path, []byte(claimHouse), 0o640); err != nil {
			t.Fatal(err)
		}
		h, err := inFile(t, row.claim, path)
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		if s, ok := h.Scale(row.claim.Scale.ID); !ok || s.Topic != row.claim.Scale.Topic || s.Unit != row.claim.Scale.Unit {
			t.Errorf("%s: %+v", row.name, s)
		}
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if gone, come := differences(claimHouse, string(text)); strings.Join(gone, "\n") != strings.Join(row.gone, "\n") || strings.Join(come, "\n") != strings.Join(row.come, "\n") {
			t.Errorf("%s:\n- %q\n+ %q", row.name, gone, come)
		}
		if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o640 {
			t.Errorf("%s: mode %v, %v", row.name, info.Mode(), err)
		}
	}
}

// inFile makes a claim in a household file, and returns what the store holds then.
func inFile(t *testing.T, c Claim, path string) (home.Household, error) {
	t.Helper()
	db := openStore(t, t.TempDir())
	defer db.Close()
	err := (&changer{db: db, file: path}).change(t.Context(), c.edit(t.Context(), db))
	h, failed := db.Household(t.Context())
	if failed != nil {
		t.Fatal(failed)
	}
	return h, err
}

// differences are the lines of a that b has not, and those of b that a has not, each counted.
func differences(a, b string) (gone, come []string) {
	count := map[string]int{}
	for line := range strings.Lines(b) {
		count[line]++
	}
	for line := range strings.Lines(a) {
		if count[line]--; count[line] < 0 {
			gone = append(gone, strings.TrimSuffix(line, "\n"))
		}
	}
	for line := range strings.Lines(b) {
		if count[line] > 0 {
			count[line]--
			come = append(come, strings.TrimSuffix(line, "\n"))
		}
	}
	return gone, come
}

// A file that is written in another way, or that may not be written, is left
// alone, and the keeper is told what to write.
func TestClaim_InFile_SaysWhatToWrite(t *testing.T) {
	for _, text := range []string{
		`scale = [{id = "box-1", kind = "floor"}]`,
		"[[scale]]\n\"id\" = \"box-1\"\nkind = \"floor\"\n",
		"[[scale]]\nid = \"box-1\"\nkind = \"floor\"\ntopic = \"\"\"\nold\"\"\"\n",
	} {
		path := filepath.Join(t.TempDir(), "household.toml")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := inFile(t, Claim{Scale: home.Scale{ID: "box-1", Topic: "x/y", Payload: "senml"}, Move: true}, path)
		if err == nil || !strings.Contains(home.Hint(err), "topic = 'x/y'") {
			t.Errorf("%s: %v\n%s", text, err, home.Hint(err))
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != text {
			t.Errorf("changed to\n%s\n%v", got, err)
		}
	}
}

func TestClaim_Claimed_Refuses(t *testing.T) {
	h, err := ParseHousehold([]byte(claimHouse))
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		claim Claim
		want  string
	}{
		{Claim{Scale: home.Scale{ID: "new", Topic: "x"}}, "is new"},                                            // nobody said what it is
		{Claim{Scale: home.Scale{ID: "New Box", Kind: home.Floor, Topic: "x"}}, "slug"},                        // no id
		{Claim{Scale: home.Scale{ID: "juniper", Kind: home.Floor, Topic: "x"}}, "taken"},                       // a cat's id
		{Claim{Scale: home.Scale{ID: "box-1", Topic: "x"}}, "would leave it"},                                  // not by accident
		{Claim{Scale: home.Scale{ID: "bare", Topic: "home/litter/1"}}, "claimed by"},                           // two on one topic
		{Claim{Scale: home.Scale{ID: "bare", Topic: "home/#"}}, "claimed by"},                                  // and that of others besides
		{Claim{Scale: home.Scale{ID: "bare", Topic: "a/#/b"}}, "'#'"},                                          // no filter
		{Claim{Scale: home.Scale{ID: "bare", Topic: "/api/v1/readings"}}, "no topic"},                          // came over HTTP
		{Claim{Scale: home.Scale{ID: "bare", Topic: "x", Unit: "mL"}}, "mL"},                                   // no mass
		{Claim{Scale: home.Scale{ID: "n", Kind: home.Floor, Topic: "x", Cats: []string{"moss"}}}, "household"}, // no such cat
	} {
		if _, err := row.claim.claimed(h); err == nil || !strings.Contains(err.Error(), row.want) || home.Hint(err) == "" {
			t.Errorf("%+v: got %v, want %q", row.claim, err, row.want)
		}
	}
}

// aside puts payloads aside as arriving on topics that nobody claims does.
func asideOn(t *testing.T, db *store.DB, topic string, payloads ...string) {
	t.Helper()
	for i, p := range payloads {
		if _, err := db.Append(t.Context(), home.Batch{SetAside: []home.SetAside{{Arrived: noon.Add(time.Duration(i) * time.Second),
			Way: ingest.WayMQTT, Topic: topic, Payload: []byte(p), Reason: ingest.ErrUnclaimed.Error()}}}); err != nil {
			t.Fatal(err)
		}
	}
}

// A claim on a stopped program: the household changes, what can be read is stored
// as of when it arrived and settled, the rest stays with the reason of now.
func TestClaimStopped_TriesAgain(t *testing.T) {
	db := openStore(t, t.TempDir())
	defer db.Close()
	asideOn(t, db, "x/y", "4100", "online", "4200 g")
	asideOn(t, db, "other", "1")
	got, err := ClaimStopped(t.Context(), db, Config{}, Claim{Scale: home.Scale{ID: "box-1", Kind: home.LitterBox, Topic: "x/y", Unit: "g"}})
	if err != nil || got.Tried != 3 || got.Read != 2 || len(got.Left) != 1 || !strings.Contains(got.Left[0].Reason, "no number") {
		t.Fatalf("%+v, %v", got, err)
	}
	readings, err := db.Readings(t.Context(), "box-1", home.Load, time.Time{}, time.Time{})
	if err != nil || len(readings) != 2 || readings[0].Value != 4.1 || !readings[0].Time.Equal(noon) || readings[1].Value != 4.2 {
		t.Errorf("%+v, %v", readings, err)
	}
	if h, err := db.Household(t.Context()); err != nil || h.Scales[0].Payload != "number" {
		t.Errorf("%+v, %v", h, err)
	}
	// Once more changes nothing: what was read is settled.
	if got, err := RetryStopped(t.Context(), db, Config{}, "#"); err != nil || got.Tried != 2 || got.Read != 0 {
		t.Errorf("%+v, %v", got, err)
	}
	if n, err := db.Readings(t.Context(), "box-1", home.Load, time.Time{}, time.Time{}); err != nil || len(n) != 2 {
		t.Errorf("%d readings, %v", len(n), err)
	}
}

// Trying again loses no payload, on a topic that its scale left and over HTTP, where no
// scale is, and counts as read only what was.
func TestRetryStopped_LosesNothing(t *testing.T) {
	db := openStore(t, t.TempDir())
	defer db.Close()
	for i, s := range []home.SetAside{
		{Way: ingest.WayMQTT, Topic: "left", Payload: []byte("4.5")}, {Way: ingest.WayMQTT, Topic: "left", Payload: []byte("4.6")},
		{Way: ingest.WayHTTP, Topic: "/api/v1/readings", Payload: []byte("xx")}, {Way: ingest.WayHTTP, Topic: "/api/v1/readings", Payload: []byte(`{"n":"load"`)},
		{Way: ingest.WayHTTP, Topic: "/api/v1/readings", Payload: []byte("source,time,quantity,value\nbox-1,2025-03-03T00:00:00Z,weight,4\n")},
	} {
		s.Reason, s.Arrived = "the reason", noon.Add(time.Duration(i)*time.Second)
		if _, err := db.Append(t.Context(), home.Batch{SetAside: []home.SetAside{s}}); err != nil {
			t.Fatal(err)
		}
	}
	for read := 1; read >= 0; read-- { // what is read once is not tried again
		if got, err := RetryStopped(t.Context(), db, Config{}, "#"); err != nil || got.Tried != 4+read || got.Read != read || len(got.Left) != 4 {
			t.Errorf("%+v, %v", got, err)
		}
	}
	all, err := db.SetAsidesAfter(t.Context(), 0, 10)
	if err != nil || len(all) != 4 {
		t.Fatalf("%+v, %v", all, err)
	}
	for i, reason := range []string{ingest.ErrUnclaimed.Error(), ingest.ErrUnclaimed.Error(), "no SenML JSON", "no SenML JSON"} {
		if !strings.HasPrefix(all[i].Reason, reason) {
			t.Errorf("%+v", all[i])
		}
	}
	got, err := ClaimStopped(t.Context(), db, Config{}, Claim{Scale: home.Scale{ID: "box-1", Kind: home.Floor, Topic: "left"}})
	if err != nil || got.Tried != 2 || got.Read != 2 {
		t.Errorf("%+v, %v", got, err)
	}
}

// A claim under which nothing could be read changes nothing.
func TestClaimStopped_RefusesWhatCannotBeRead(t *testing.T) {
	db := openStore(t, t.TempDir())
	defer db.Close()
	asideOn(t, db, "x/y", `{"weight":4.5,"battery":87}`)
	asideOn(t, db, "grams", "9437")
	for _, row := range []struct {
		scale home.Scale
		want  string
		hint  string
	}{
		{home.Scale{ID: "b", Kind: home.Floor, Topic: "x/y"}, "2 numbers", "json:/weight"},
		{home.Scale{ID: "b", Kind: home.Floor, Topic: "x/y", Payload: "json:/mass"}, "/mass", "Nothing was changed"},
		{home.Scale{ID: "b", Kind: home.Floor, Topic: "grams"}, "9437", "Nothing was changed"}, // kg is wrong
		{home.Scale{ID: "b", Kind: home.Floor, Topic: "grams", Payload: "words"}, "unknown payload", "senml"},
		{home.Scale{ID: "b", Kind: home.Floor, Topic: "silent", Payload: "words"}, "unknown payload", "senml"},
	} {
		_, err := ClaimStopped(t.Context(), db, Config{}, Claim{Scale: row.scale})
		if err == nil || !strings.Contains(err.Error(), row.want) || !strings.Contains(home.Hint(err), row.hint) {
			t.Errorf("%+v: %v\n%s", row.scale, err, home.Hint(err))
		}
	}
	if h, err := db.Household(t.Context()); err != nil || len(h.Scales) != 0 {
		t.Errorf("%+v, %v", h, err)
	}
}

// What only a person, a file or the store can mend is not tried: a row of a file,
// a contradiction, and a payload of which only the beginning is kept.
func TestRetryStopped_LeavesWhatCannotBeTried(t *testing.T) {
	db := openStore(t, t.TempDir())
	defer db.Close()
	for i, s := range []home.SetAside{{Way: ingest.WayImport}, {Way: "store"}, {Way: ingest.WayMQTT, Cut: true}} {
		s.Topic, s.Payload, s.Arrived, s.Reason = "x/y", []byte(`[{"n":"box-1:load","u":"kg","v":4}]`), noon.Add(time.Duration(i)), "r"
		if _, err := db.Append(t.Context(), home.Batch{SetAside: []home.SetAside{s}}); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := RetryStopped(t.Context(), db, Config{}, "#"); err != nil || got.Tried != 0 {
		t.Errorf("%+v, %v", got, err)
	}
}

// A copy that a broker kept does not become news by being tried again.
func TestRetryStopped_RetainedStaysRetained(t *testing.T) {
	db := openStore(t, t.TempDir())
	defer db.Close()
	if _, err := db.Append(t.Context(), home.Batch{SetAside: []home.SetAside{{Way: ingest.WayMQTT, Topic: "x", Payload: []byte("4.5"),
		Arrived: noon, Reason: ingest.ErrUnclaimed.Error(), Latest: true, Retained: true}}}); err != nil {
		t.Fatal(err)
	}
	got, err := ClaimStopped(t.Context(), db, Config{}, Claim{Scale: home.Scale{ID: "b", Kind: home.Floor, Topic: "x"}})
	if err != nil || got.Read != 0 || !strings.Contains(got.Left[0].Reason, "nobody knows when") {
		t.Errorf("%+v, %v", got, err)
	}
}
