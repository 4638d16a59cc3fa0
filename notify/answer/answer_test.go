package answer

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"weighbeam/home"

	"pgregory.net/rapid"
)

var t0 = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

func key(t testing.TB, secret string) Key {
	t.Helper()
	k, err := NewKey([]byte(secret))
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func ticket() Ticket {
	return Ticket{Finding: "juniper/weight-falling/20261124T090000.000000Z", Channel: "phone", Expires: t0.Add(30 * 24 * time.Hour)}
}

func TestKey_Open(t *testing.T) {
	k := key(t, "planted-planted-planted")
	good := k.Token(ticket())
	tests := []struct {
		name  string
		token string
		now   time.Time
		want  error
	}{
		// Until its last second.
		{"good", good, t0, nil},
		{"last second", good, ticket().Expires.Add(-time.Second), nil},
		{"expired", good, ticket().Expires, ErrExpired},
		// Signed by another house, or by nobody.
		{"other key", key(t, "another-another-another").Token(ticket()), t0, ErrForged},
		{"empty", "", t0, ErrForged},
		{"cut", good[:len(good)-1], t0, ErrForged},
		{"longer", good + "A", t0, ErrForged},
		{"line break", good + "\n", t0, ErrForged},
		{"not base64", "!" + good[1:], t0, ErrForged},
		{"huge", strings.Repeat("A", 1<<20), t0, ErrForged},
	}
	for _, tt := range tests {
		got, err := k.Open(tt.token, tt.now)
		if !errors.Is(err, tt.want) || tt.want == nil && got != ticket() {
			t.Errorf("%s: %+v, %v", tt.name, got, err)
		}
	}
	if _, err := (Key{}).Open((Key{}).Token(ticket()), t0); !errors.Is(err, ErrForged) {
		t.Error("without a key anything is taken")
	}
}

// No single changed character is taken.
func TestKey_Open_EveryCharacterCounts(t *testing.T) {
	k := key(t, "planted-planted-planted")
	good := k.Token(ticket())
	for i := range good {
		for _, c := range "Aa0_-" {
			if forged := good[:i] + string(c) + good[i+1:]; forged != good {
				if _, err := k.Open(forged, t0); !errors.Is(err, ErrForged) {
					t.Fatalf("character %d as %c: %v", i, c, err)
				}
			}
		}
	}
}

// What goes in comes out, whatever it is, and two tickets never share an id.
func TestTicket_RoundTrip(t *testing.T) {
	k := key(t, "planted-planted-planted")
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) Ticket {
			text := rapid.StringN(0, 60, 200)
			return Ticket{Finding: text.Draw(t, name+" finding"), Channel: text.Draw(t, name+" channel"),
				Expires: time.Unix(rapid.Int64Range(0, 1<<40).Draw(t, name+" expires"), 0).UTC()}
		}
		a, b := draw("a"), draw("b")
		got, err := k.Open(k.Token(a), a.Expires.Add(-time.Second))
		if err != nil || got != a {
			t.Fatalf("%+v became %+v, %v", a, got, err)
		}
		if (a.ID() == b.ID()) != (a == b) {
			t.Fatalf("%+v and %+v: ids %s and %s", a, b, a.ID(), b.ID())
		}
	})
}

func TestTicket_Reaction(t *testing.T) {
	r, err := ticket().Reaction(home.Snoozed, t0, t0.Add(time.Hour), "")
	if err != nil || r.ID != ticket().ID() || r.Finding != ticket().Finding || !r.Until.Equal(t0.Add(time.Hour)) {
		t.Errorf("%+v, %v", r, err)
	}
	// An end is kept only where it means something.
	if r, err := ticket().Reaction(home.VetKnows, t0, t0.Add(time.Hour), ""); err != nil || !r.Until.IsZero() {
		t.Errorf("%+v, %v", r, err)
	}
	// Nothing is silenced for good, or by a word that nobody knows.
	for kind, until := range map[home.ReactionKind]time.Duration{home.Snoozed: 365 * 24 * time.Hour, "silenced": 0} {
		if _, err := ticket().Reaction(kind, t0, t0.Add(until), ""); err == nil {
			t.Errorf("%s until %s is taken", kind, until)
		}
	}
}

func TestNewKey(t *testing.T) {
	if _, err := NewKey(make([]byte, 15)); err == nil || home.Hint(err) == "" {
		t.Error("a short key is taken, or refused without a hint")
	}
	a, b := MakeSecret(), MakeSecret()
	if len(a) != KeySize || string(a) == string(b) {
		t.Error("two secrets are the same")
	}
	k := key(t, "planted-planted-planted")
	if text := fmt.Sprintf("%v %+v %#v %s", k, k, k, k); strings.Contains(text, "planted") {
		t.Error(text)
	}
}

func FuzzKey_Open(f *testing.F) {
	k := key(f, "planted-planted-planted")
	f.Add(k.Token(ticket()))
	f.Add("")
	f.Add("AQ")
	f.Fuzz(func(t *testing.T, token string) {
		got, err := k.Open(token, t0)
		if err == nil && k.Token(got) != token {
			t.Errorf("%q opens as %+v, which is %q", token, got, k.Token(got))
		}
	})
}

// parse must never panic, even on what was signed by mistake.
func FuzzParse(f *testing.F) {
	f.Add(ticket().bytes())
	f.Fuzz(func(t *testing.T, b []byte) {
		if got, ok := parse(b); ok && string(got.bytes()) != string(b) {
			t.Errorf("%x is %+v, which is %x", b, got, got.bytes())
		}
	})
}
