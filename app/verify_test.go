package app

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
)

// verdictOf verifies settings and returns what is said of a part.
func verdictOf(t *testing.T, part, settings string, now time.Time) Verdict {
	t.Helper()
	cfg, err := ParseConfig([]byte(settings))
	if err != nil {
		t.Fatal(err)
	}
	all := cfg.Verify(t.Context(), now)
	i := slices.IndexFunc(all, func(v Verdict) bool { return v.Part == part })
	if i < 0 {
		t.Fatalf("nothing is said of %s: %+v", part, all)
	}
	for _, v := range all {
		if v.State != Well && v.Do == "" {
			t.Errorf("%s says not what to do: %+v", v.Part, v)
		}
	}
	return all[i]
}

// file makes a file with that mode and returns its path.
func file(t *testing.T, name, text string, mode os.FileMode) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), mode); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, mode); err != nil {
		t.Fatal(err)
	}
	return path
}

// pair makes a certificate that is good between two times, and the table that names it.
func pair(t *testing.T, from, to time.Time) string {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: from, NotAfter: to}
	der, err := x509.CreateCertificate(rand.Reader, &template, &template, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	private, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("[door]\ncert_file = %q\nkey_file = %q\n",
		file(t, "cert.pem", string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})), 0o644),
		file(t, "key.pem", string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: private})), 0o600))
}

// Each part that is wrong is told as that part, with what to do; one that is right
// is not.
func TestConfig_Verify(t *testing.T) {
	now := time.Now()
	dead := func() string { // an address where nobody is
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		defer l.Close()
		return l.Addr().String()
	}
	other, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	ahead := filepath.Join(t.TempDir(), "house.db")
	db, err := store.Open(t.Context(), ahead)
	if err != nil {
		t.Fatal(err)
	}
	r := home.Reading{Source: "hand", Quantity: home.Weight, Time: now, Value: 4.5, Cat: "juniper", Clock: home.ByHand, Arrived: now}
	if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{r}}); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	open := t.TempDir() // and every folder above it, where the test may
	day := 24 * time.Hour
	for _, row := range []struct {
		name, part, settings string
		now                  time.Time
		want                 string // the state
		says                 string
	}{
		// A household that cannot be read, or is empty, watches nobody.
		{"household gone", "household", `household = "/nowhere/household.toml"`, now, Wrong, "no such file"},
		// Words that would show something odd to a person with a cat in a towel.
		{"words", "words", fmt.Sprintf("words = %q", file(t, "de.toml", "lang = \"de\"\n[form]\ntitle = \"Gesundheitscheck zu Hause\"", 0o600)), now, Well, "de.toml"},
		{"words gone", "words", `words = "/nowhere/de.toml"`, now, Wrong, "no such file"},
		{"words of nothing", "words", fmt.Sprintf("words = %q", file(t, "xx.toml", "lang = \"de\"\n[form]\ntitel = \"x\"", 0o600)), now, Wrong, `unknown key "form.titel"`},
		{"nobody lives there", "household", fmt.Sprintf("household = %q", file(t, "h.toml", "", 0o600)), now, Look, "names no cat"},
		{"household", "household", fmt.Sprintf("household = %q", file(t, "h.toml", "[[cat]]\nid=\"a\"\nname=\"A\"", 0o600)), now, Well, "1 cats"},
		// A secret that is not there stops the start.
		{"secret gone", "secrets", "[[device]]\nname=\"k\"\ntoken_file=\"/nowhere/token\"\nsources=[\"a\"]", now, Wrong, "no such file"},
		// The store: new, whole, or no store at all.
		{"no store yet", "store", fmt.Sprintf("data = %q", filepath.Join(open, "new", "house.db")), now, Well, "first start"},
		{"a store", "store", fmt.Sprintf("data = %q", ahead), now, Well, "1 readings of 1 sources, whole"},
		{"no store but a file", "store", fmt.Sprintf("data = %q", file(t, "house.db", strings.Repeat("no database ", 100), 0o600)), now, Wrong, ""},
		// Who is heard of and lives elsewhere, until nobody has heard of them for a month.
		{"a stranger", "strangers", fmt.Sprintf("data = %q", ahead), now, Look, "cat juniper (named by hand)"},
		{"no stranger", "strangers", fmt.Sprintf("data = %q\nhousehold = %q", ahead, file(t, "h.toml", "[[cat]]\nid=\"juniper\"\nname=\"J\"", 0o600)), now, Well, ""},
		{"a stranger once", "strangers", fmt.Sprintf("data = %q", ahead), now.Add(32 * day), Well, ""},
		{"room", "disk", fmt.Sprintf("data = %q", filepath.Join(open, "new", "house.db")), now, "", "is left at"},
		// A clock that was set back, or starts at the beginning of time as small computers do.
		{"set back", "clock", fmt.Sprintf("data = %q", ahead), now.Add(-time.Hour), Wrong, "newest reading"},
		{"never set", "clock", "", time.Unix(0, 0), Wrong, "before this program"},
		// A port that somebody else has; one that is free.
		{"port taken", "pages", fmt.Sprintf("data=%q\nlisten = %q", filepath.Join(open, "x.db"), other.Addr()), now, Wrong, "weighbeam does not run"},
		{"port free", "pages", fmt.Sprintf("data=%q\nlisten = %q", filepath.Join(open, "x.db"), dead()), now, Well, "is free"},
		{"broker's port", "broker inside", fmt.Sprintf("data=%q\n[broker]\nlisten = %q", filepath.Join(open, "x.db"), other.Addr()), now, Wrong, "does not run"},
		// A door that does not close.
		{"password for hash", "door", fmt.Sprintf("[[door.person]]\nname=\"ada\"\npassword_file=%q", file(t, "p", "sixteen tabby paws", 0o600)), now, Wrong, "no hash"},
		{"no door", "door", "", now, Well, "Everybody on this machine"},
		// Certificates end, and a clock that was never set makes all of them begin later.
		{"ended", "certificate", pair(t, now.Add(-9*day), now.Add(-day)), now, Wrong, "ended"},
		{"ends soon", "certificate", pair(t, now.Add(-day), now.Add(5*day)), now, Look, "ends on"},
		{"begins later", "certificate", pair(t, now.Add(day), now.Add(90*day)), now, Wrong, "begins"},
		{"good", "certificate", pair(t, now.Add(-day), now.Add(90*day)), now, Well, "Good until"},
		{"not one", "certificate", "[door]\ncert_file=\"/nowhere/c\"\nkey_file=\"/nowhere/k\"", now, Wrong, "no such file"},
		// A scale on a topic of notices.
		{"notices on a scale", "topics", fmt.Sprintf("household = %q\n[[topic]]\nname=\"lamp\"\ntopic=\"home/litter/1\"", file(t, "h.toml", "[[scale]]\nid=\"box-1\"\nkind=\"litter-box\"\ntopic=\"home/litter/+\"", 0o600)),
			now, Wrong, "lamp is told on home/litter/1, where the scale box-1 listens"},
		{"notices elsewhere", "topics", fmt.Sprintf("household = %q\n[[topic]]\nname=\"lamp\"\ntopic=\"home/said\"", file(t, "h.toml", "[[scale]]\nid=\"box-1\"\nkind=\"litter-box\"\ntopic=\"home/litter/+\"", 0o600)),
			now, Well, ""},
		// Servers that are not there.
		{"broker away", "broker", fmt.Sprintf("[mqtt]\nserver = \"mqtt://%s\"", dead()), now, Wrong, "does not let weighbeam in"},
		{"engine away", "mirror", fmt.Sprintf("[influx]\nurl = \"http://%s\"\nbucket=\"home\"", dead()), now, Wrong, "refused"},
		{"webhook away", "channel house", fmt.Sprintf("[[webhook]]\nname=\"house\"\nurl=\"http://%s/x\"", dead()), now, Wrong, "does not answer"},
		{"webhook", "channel house", fmt.Sprintf("[[webhook]]\nname=\"house\"\nurl=\"http://%s/x\"", other.Addr()), now, Well, "weighbeam try house"},
		{"mail away", "channel ada", fmt.Sprintf("[[mail]]\nname=\"ada\"\nserver=%q\nfrom=\"a@example.org\"\nto=\"b@example.org\"", dead()), now, Wrong, "does not answer"},
		{"no such command", "channel bell", "[[command]]\nname=\"bell\"\nrun=[\"/nowhere/bell\"]", now, Wrong, ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			v := verdictOf(t, row.part, row.settings, row.now)
			if row.want != "" && v.State != row.want || !strings.Contains(v.Text+v.Do, row.says) {
				t.Errorf("got %+v, want %s and %q", v, row.want, row.says)
			}
		})
	}
}
