package home

import (
	"strings"
	"testing"
	"time"
)

func TestContact_Valid(t *testing.T) {
	mail := Contact{ID: "ada", Way: ByMail, Server: "mail.example.org:587", From: "Cats <cats@example.org>", To: "ada@example.org"}
	with := func(change func(*Contact)) Contact {
		c := mail
		change(&c)
		return c
	}
	for _, tt := range []struct {
		name string
		c    Contact
		want string // in the error; "": none
	}{
		{"mail", mail, ""},
		{"all rules", with(func(c *Contact) {
			c.Least, c.Digest, c.QuietFrom, c.QuietTo, c.After, c.For = Today, "08:00", "22:00", "07:00", time.Hour, "ben"
		}), ""},
		{"service: its address is kept elsewhere", Contact{ID: "ada", Way: ByService}, ""},
		{"no slug", with(func(c *Contact) { c.ID = "Ada L" }), "slug"},
		{"no way", Contact{ID: "ada"}, "way is"},
		{"a program to run: no page may name one", Contact{ID: "ada", Way: "command", To: "/bin/sh"}, "way is"},
		{"no urgency", with(func(c *Contact) { c.Least = "soon" }), "least is"},
		{"half of quiet hours", with(func(c *Contact) { c.QuietFrom = "22:00" }), "beginning and an end"},
		{"no time of day", with(func(c *Contact) { c.Digest = "24:30" }), "no time of day"},
		{"stands in at once", with(func(c *Contact) { c.For = "ben" }), "after how long"},
		{"before it happens", with(func(c *Contact) { c.After = -time.Hour }), "after how long"},
		{"from nobody", with(func(c *Contact) { c.From = "cats" }), "from is no mail address"},
		{"header smuggled in", with(func(c *Contact) { c.To = "ada@example.org\r\nBcc: x@example.org" }), "to is no mail address"},
		{"no server", with(func(c *Contact) { c.Server = "" }), "needs a server"},
		{"unknown safety", with(func(c *Contact) { c.Encrypt = "ssl3" }), "tls is"},
		{"no topic", Contact{ID: "ada", Way: ByTopic}, "which topic"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			err := tt.c.Valid()
			if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v, want %q", err, tt.want)
			}
		})
	}
}
