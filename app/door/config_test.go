package door

import (
	"strings"
	"testing"

	"weighbeam/home"
)

func TestConfig_Valid(t *testing.T) {
	keeper, _ := hashes()
	ada := []Person{{"ada", Keeper, keeper}}
	for _, row := range []struct {
		name string
		c    Config
		want string // part of the error; "" for none
	}{
		// A house that needs nothing: its own machine.
		{"loopback", Config{Listen: "127.0.0.1:8640"}, ""},
		{"loopback of IPv6", Config{Listen: "[::1]:8640"}, ""},
		// Others reach it: without a password it does not start.
		{"all addresses", Config{Listen: "0.0.0.0:8640", Plain: true}, "no password"},
		{"an address of the house", Config{Listen: "192.168.1.5:8640", TLS: true}, "no password"},
		{"a name that is not this machine", Config{Listen: "cats.lan:8640", TLS: true}, "no password"},
		// A password that everybody can read on the way is none, unless said so.
		{"password without TLS", Config{Listen: "0.0.0.0:8640", People: ada}, "unprotected"},
		{"plain, in words", Config{Listen: "0.0.0.0:8640", People: ada, Plain: true}, ""},
		{"TLS", Config{Listen: "0.0.0.0:8640", People: ada, TLS: true}, ""},
		{"a proxy does TLS", Config{Listen: "0.0.0.0:8640", People: ada, Proxies: []string{"10.1.0.0/16"}}, ""},
		// Behind a proxy everything comes from loopback: that is no reason to trust it.
		{"proxy without password", Config{Listen: "127.0.0.1:8640", Proxies: []string{"127.0.0.1"}}, "no password"},
		{"no address of a proxy", Config{Listen: "127.0.0.1:1", People: ada, Proxies: []string{"nginx"}}, "no address of a proxy"},
		// A house where nobody may change anything, a role that does not exist.
		{"viewers only", Config{Listen: "127.0.0.1:1", People: []Person{{"bo", Viewer, keeper}}}, "nobody may change"},
		{"unknown role", Config{Listen: "127.0.0.1:1", People: []Person{{"bo", "boss", keeper}}}, "role"},
		{"two of one name", Config{Listen: "127.0.0.1:1", People: append(ada, ada...)}, "ada"},
		// The password itself where its hash belongs must not start, nor be shown whole.
		{"password for hash", Config{Listen: "127.0.0.1:1", People: []Person{{"ada", Keeper, "sixteen tabby paws"}}}, "no hash"},
		{"short token", Config{Listen: "127.0.0.1:1", People: ada, Scrape: "short"}, "shorter"},
	} {
		t.Run(row.name, func(t *testing.T) {
			err := row.c.Valid()
			if row.want == "" {
				if err != nil {
					t.Errorf("refused: %v", err)
				}
				return
			}
			if err == nil || !strings.Contains(err.Error(), row.want) || home.Hint(err) == "" || strings.Contains(err.Error(), "tabby paws") {
				t.Errorf("got %v, hint %q, want %q", err, home.Hint(err), row.want)
			}
		})
	}
}

// A hash says how it was made, differs each time, and a password that is guessed at
// once is refused.
func TestHash(t *testing.T) {
	a, _ := hashes()
	b, err := Hash("sixteen tabby paws")
	if err != nil || a == b || !strings.HasPrefix(a, "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Errorf("got %s and %s, %v", a, b, err)
	}
	if !matches(b, "sixteen tabby paws") || matches(b, "sixteen tabby pawS") || matches("", "") {
		t.Error("the wrong password matches, or the right one does not")
	}
	if _, err := Hash("kitty"); err == nil || home.Hint(err) == "" {
		t.Errorf("a short password: %v", err)
	}
	// A hash from a settings file could ask for more memory than there is.
	if err := ValidHash(strings.Replace(a, "m=19456", "m=99999999", 1)); err == nil {
		t.Error("a hash of 100 GB is accepted")
	}
}

// After signing in a browser goes to a page of this host, whatever a link said.
func TestWithin(t *testing.T) {
	for to, want := range map[string]string{
		"/cats/juniper?a=b": "/cats/juniper?a=b", "": "/", "https://elsewhere.example": "/", "//elsewhere.example": "/",
		`/\elsewhere.example`: "/", "/\t/elsewhere.example": "/", "javascript:alert(1)": "/",
	} {
		if got := within(to); got != want {
			t.Errorf("%q leads to %q", to, got)
		}
	}
}

// One machine has a whole /64 of IPv6 addresses; it gets no more tries by that.
func TestNetwork(t *testing.T) {
	if network("2001:db8::1") != network("2001:db8::ffff:2") || network("2001:db8::1") == network("2001:db8:1::1") {
		t.Error("addresses are not counted by their /64")
	}
	if network("192.0.2.1") == network("192.0.2.2") || network("::ffff:192.0.2.1") != "::ffff:192.0.2.1" {
		t.Error("IPv4 addresses are mixed")
	}
}
