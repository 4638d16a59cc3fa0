package door

import (
	"fmt"
	"html/template"
	"net/http"
	"net/netip"
	"net/url"
	"strings"

	"weighbeam/home"
)

// Role is what a person may do.
type Role string

// The roles. A device has none here: it speaks to the broker or to the readings
// API, with a token of its own.
const (
	Keeper Role = "keeper" // everything
	Viewer Role = "viewer" // look at every page, change nothing
)

// Person is somebody who may sign in.
type Person struct {
	Name string
	Role Role   // empty: Keeper
	Hash string // of the password, as [Hash] makes it
}

// Config of a [Door].
type Config struct {
	Listen   string   // host:port of the pages
	Link     string   // address of the pages as others see it; may be empty
	People   []Person // who may sign in; none: everybody on this machine, which Listen must then be
	Proxies  []string // addresses or ranges of the proxies before the pages, which do TLS
	TLS      bool     // the pages speak TLS themselves
	Plain    bool     // other machines may sign in without TLS
	Scrape   string   // token that reads /metrics; empty: keepers only
	Devices  bool     // devices post with tokens of their own; else, where there are people, only who is signed in posts
	Sessions Sessions // where sessions are kept
	Frame    Frame    // draws the pages of the door
}

// Frame is how all pages look; see dashboards.Frame.
type Frame = func(w http.ResponseWriter, status int, title string, body template.HTML)

const op = "set up the door"

// Reach returns nil if those who can reach the pages are asked who they are, and
// over what protects the answer. It looks at no hash.
func (c Config) Reach() error {
	switch {
	case len(c.People) == 0 && !home.Loopback(c.Listen):
		return home.Hinted(op, "Make a hash with: weighbeam password. Name it under [[door.person]]; or listen on 127.0.0.1.",
			"other machines can reach the pages at %s, and there is no password", c.Listen)
	case len(c.People) == 0 && len(c.Proxies) > 0:
		return home.Hinted(op, "Make a hash with: weighbeam password. Name it under [[door.person]].", "the pages are behind a proxy, and there is no password")
	case !home.Loopback(c.Listen) && !c.TLS && len(c.Proxies) == 0 && !c.Plain:
		return home.Hinted(op, "Under [door], name cert_file and key_file; or the proxies that do TLS; or write plain = true if everybody on the network may read the password.",
			"passwords would cross the network to %s unprotected", c.Listen)
	}
	_, err := ranges(c.Proxies)
	return err
}

// Valid returns nil if c can be used, or what is wrong with it and what to do.
func (c Config) Valid() error {
	if err := c.people(); err != nil {
		return err
	}
	if c.Scrape != "" && len(c.Scrape) < minToken {
		return home.Hinted(op, "Make one with: weighbeam token.", "the token for /metrics is shorter than %d characters", minToken)
	}
	return c.Reach()
}

const minToken = 16

func (c Config) people() error {
	seen, keepers := map[string]bool{}, 0
	for _, p := range c.People {
		switch {
		case strings.TrimSpace(p.Name) == "" || len(p.Name) > 100 || seen[p.Name]:
			return home.Hinted(op, "Give each person a name of their own, of at most 100 bytes.", "person %q", p.Name)
		case p.Role != Keeper && p.Role != Viewer:
			return home.Hinted(op, "Write keeper or viewer.", "%s has the role %q", p.Name, p.Role)
		}
		if err := ValidHash(p.Hash); err != nil {
			return &home.Error{Op: op, Err: fmt.Errorf("%s: %w", p.Name, err)}
		}
		seen[p.Name] = true
		if p.Role == Keeper {
			keepers++
		}
	}
	if len(c.People) > 0 && keepers == 0 {
		return home.Hinted(op, "Give one person the role keeper.", "nobody may change anything")
	}
	return nil
}

// secure reports whether browsers reach the pages by TLS.
func (c Config) secure() bool {
	if u, err := url.Parse(c.Link); err == nil && u.Scheme == "http" && !c.TLS {
		return false
	}
	return c.TLS || len(c.Proxies) > 0
}

// ranges reads addresses and ranges of addresses.
func ranges(texts []string) ([]netip.Prefix, error) {
	var all []netip.Prefix
	for _, text := range texts {
		p, err := netip.ParsePrefix(text)
		if a, aErr := netip.ParseAddr(text); aErr == nil {
			p, err = a.Prefix(a.BitLen())
		}
		if err != nil {
			return nil, home.Hinted(op, "Write an address or a range, as 127.0.0.1 or 10.1.0.0/16.", "%q is no address of a proxy", text)
		}
		all = append(all, p)
	}
	return all, nil
}
