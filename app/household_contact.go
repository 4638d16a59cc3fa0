package app

import (
	"weighbeam/home"
)

// contactEntry is one way to reach one person, in the household file. Its password, or
// its address where that holds a token, is not: it is typed on the page.
type contactEntry struct {
	Name      string `toml:"name"`
	Way       string `toml:"way"`
	Least     string `toml:"least,omitempty"`
	Digest    string `toml:"digest,omitempty"`
	QuietFrom string `toml:"quiet_from,omitempty"`
	QuietTo   string `toml:"quiet_to,omitempty"`
	After     *Wait  `toml:"after,omitempty"`
	For       string `toml:"for,omitempty"`
	To        string `toml:"to,omitempty"`
	Server    string `toml:"server,omitempty"`
	TLS       string `toml:"tls,omitempty"`
	Username  string `toml:"username,omitempty"`
	From      string `toml:"from,omitempty"`
}

func (e contactEntry) contact() home.Contact {
	c := home.Contact{ID: e.Name, Way: home.ContactWay(e.Way), Least: home.Urgency(e.Least), Digest: e.Digest, QuietFrom: e.QuietFrom, QuietTo: e.QuietTo,
		For: e.For, To: e.To, Server: e.Server, Encrypt: e.TLS, User: e.Username, From: e.From}
	if e.After != nil {
		c.After = e.After.Duration
	}
	return c
}

func contactEntryOf(c home.Contact) contactEntry {
	e := contactEntry{Name: c.ID, Way: string(c.Way), Least: string(c.Least), Digest: c.Digest, QuietFrom: c.QuietFrom, QuietTo: c.QuietTo,
		For: c.For, To: c.To, Server: c.Server, TLS: c.Encrypt, Username: c.User, From: c.From}
	if c.After > 0 {
		e.After = &Wait{c.After}
	}
	return e
}
