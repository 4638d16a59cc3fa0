package app

import (
	"fmt"
	"log/slog"
	"net"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
)

// The types below are values of the settings file. Each checks itself while it
// is read, so that an error carries its line. They are structs because the TOML
// library asks only those to read themselves.

// Address is host:port to listen on.
type Address struct{ text string }

// UnmarshalText refuses what is no host:port.
func (a *Address) UnmarshalText(b []byte) error {
	host, port, err := net.SplitHostPort(string(b))
	if err != nil || port == "" || host == "" {
		return fmt.Errorf(`%q is no address: write it as "127.0.0.1:8640"`, b)
	}
	a.text = string(b)
	return nil
}

func (a Address) String() string { return a.text }

// Units is how weights are shown: kg or lb.
type Units struct{ text string }

// UnmarshalText refuses other units.
func (u *Units) UnmarshalText(b []byte) error { return oneOf(&u.text, b, "kg", "lb") }

// Level is how much is logged.
type Level struct{ text string }

// UnmarshalText refuses other levels.
func (l *Level) UnmarshalText(b []byte) error {
	return oneOf(&l.text, b, "debug", "info", "warn", "error")
}

func (l Level) slog() slog.Level {
	var level slog.Level
	if err := level.UnmarshalText([]byte(l.text)); err != nil {
		return slog.LevelInfo
	}
	return level
}

// MailTLS is how a mail connection is made safe.
type MailTLS struct{ text string }

// UnmarshalText refuses other ways.
func (m *MailTLS) UnmarshalText(b []byte) error {
	return oneOf(&m.text, b, "starttls", "tls", "none")
}

// Urgency is the least that a channel is told.
type Urgency struct{ text string }

// UnmarshalText refuses other urgencies.
func (u *Urgency) UnmarshalText(b []byte) error {
	return oneOf(&u.text, b, string(home.Mention), string(home.Book), string(home.Today), string(home.Now))
}

func oneOf(to *string, b []byte, words ...string) error {
	if !slices.Contains(words, string(b)) {
		return fmt.Errorf("%q will not do: use %s", b, strings.Join(words, ", "))
	}
	*to = string(b)
	return nil
}

// Zone is a time zone by its IANA name.
type Zone struct{ *time.Location }

// UnmarshalText refuses zones that are not known.
func (z *Zone) UnmarshalText(b []byte) error {
	loc, err := time.LoadLocation(string(b))
	if err != nil {
		return fmt.Errorf(`%q is no time zone: write it as "Europe/Vienna"`, b)
	}
	z.Location = loc
	return nil
}

// location is the zone set, or that of the machine.
func (z Zone) location() *time.Location {
	if z.Location == nil {
		return time.Local
	}
	return z.Location
}

// Clock is a time of day as 22:00.
type Clock struct{ notify.Clock }

// UnmarshalText refuses what is no time of day.
func (c *Clock) UnmarshalText(b []byte) (err error) {
	c.Clock, err = notify.ParseClock(string(b))
	return err
}

// Budget is how many false findings a cat-year are accepted.
type Budget float64

// valid refuses what is no number between 0.001 and 10.
func (b Budget) valid() error {
	if !(b >= 0.001 && b <= 10) {
		return home.Hinted("read settings", "Write a number between 0.001 and 10, as 0.1.",
			"false_findings_per_cat_year is %v", float64(b))
	}
	return nil
}
