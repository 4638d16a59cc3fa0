package home

import (
	"errors"
	"fmt"
	"net/mail"
	"slices"
	"time"
)

// ContactWay is how a [Contact] is reached.
type ContactWay string

// The ways, each with what it needs.
const (
	ByMail    ContactWay = "mail"    // Server, From and To; a password as its secret where the server asks for one
	ByService ContactWay = "service" // a message service, by the address that is its secret
	ByWebhook ContactWay = "webhook" // JSON posted to the address that is its secret
	ByTopic   ContactWay = "topic"   // To: a topic of the broker
)

// ContactWays lists them.
func ContactWays() []ContactWay { return []ContactWay{ByMail, ByService, ByWebhook, ByTopic} }

// Contact is one way to reach one person, and what that person wants to hear.
// Passwords and addresses that hold tokens are kept apart from it.
type Contact struct {
	ID                 string // its name as a channel, a slug
	Way                ContactWay
	Least              Urgency       `json:",omitempty"` // anything below stays on the pages; "": everything is told
	Digest             string        `json:",omitempty"` // time of day at which what can wait is told together, as 08:00; "": none
	QuietFrom, QuietTo string        `json:",omitempty"` // hours in which only what is urgent comes through; both "": the house's
	After              time.Duration `json:",omitempty"` // told only if nobody has reacted for so long
	For                string        `json:",omitempty"` // with After: told only what the channel of that name has not taken by then
	To                 string        `json:",omitempty"`
	Server             string        `json:",omitempty"` // host:port
	Encrypt            string        `json:",omitempty"` // starttls (also when empty), tls or none
	User               string        `json:",omitempty"`
	From               string        `json:",omitempty"`
}

// Valid returns nil if c can be used, or what is wrong with it.
func (c Contact) Valid() error {
	if err := ValidID("contact", c.ID); err != nil {
		return err
	}
	if !slices.Contains(ContactWays(), c.Way) {
		return fmt.Errorf("contact %q: way is mail, service, webhook or topic, not %q", c.ID, c.Way)
	}
	if c.Least != "" && c.Least.Rank() == 0 {
		return fmt.Errorf("contact %q: least is mention, book, today or now, not %q", c.ID, c.Least)
	}
	who := fmt.Sprintf("contact %q", c.ID)
	if err := errors.Join(validQuiet(who, c.QuietFrom, c.QuietTo), validHour(who, c.Digest)); err != nil {
		return err
	}
	if c.After < 0 || c.For != "" && c.After == 0 {
		return fmt.Errorf("contact %q: say after how long it is told", c.ID)
	}
	return c.reach()
}

// validQuiet checks the quiet hours of somebody; both "" are none.
func validQuiet(who, from, to string) error {
	if (from == "") != (to == "") {
		return fmt.Errorf("%s: quiet hours have a beginning and an end", who)
	}
	return errors.Join(validHour(who, from), validHour(who, to))
}

func validHour(who, at string) error {
	if _, err := time.Parse("15:04", at); at != "" && err != nil {
		return fmt.Errorf("%s: %q is no time of day: write it as 07:00 or 22:30", who, at)
	}
	return nil
}

// reach checks what the way of c needs.
func (c Contact) reach() error {
	switch c.Way {
	case ByMail:
		for what, text := range map[string]string{"from": c.From, "to": c.To} {
			if _, err := mail.ParseAddress(text); err != nil {
				return fmt.Errorf("contact %q: %s is no mail address: %q", c.ID, what, text)
			}
		}
		if c.Server == "" {
			return fmt.Errorf("contact %q: mail needs a server, as mail.example.org:587", c.ID)
		}
		if !slices.Contains([]string{"", "starttls", "tls", "none"}, c.Encrypt) {
			return fmt.Errorf("contact %q: tls is starttls, tls or none, not %q", c.ID, c.Encrypt)
		}
	case ByTopic:
		if c.To == "" {
			return fmt.Errorf("contact %q: say which topic, as home/notices", c.ID)
		}
	}
	return nil
}
