package app

import (
	"fmt"

	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/command"
)

// Rules are the keys that every channel has: who it reaches hears what, and when.
type Rules struct {
	Name   string       `toml:"name"`
	Least  Urgency      `toml:"least"`  // anything below stays on the pages
	Quiet  *QuietConfig `toml:"quiet"`  // its own, in place of [quiet]
	Zone   Zone         `toml:"zone"`   // its own, in place of zone
	Digest *Clock       `toml:"digest"` // hour at which what can wait is told together
	After  Wait         `toml:"after"`  // told only if nobody has reacted for so long
	For    string       `toml:"for"`    // told only what the channel of that name has not taken after After
}

// WebhookEntry is a channel that posts JSON.
type WebhookEntry struct {
	Rules
	URL         string            `toml:"url"`
	URLFile     string            `toml:"url_file"` // in place of url, where it holds a password or token
	KeyFile     string            `toml:"key_file"` // signs each message
	Body        string            `toml:"body"`     // a template, for a service with a format of its own
	Headers     map[string]string `toml:"headers"`
	HeaderFiles map[string]string `toml:"header_files"` // headers whose value is a secret in a file
}

// MailEntry is a channel that sends mail.
type MailEntry struct {
	Rules
	Server       string  `toml:"server"` // host:port
	TLS          MailTLS `toml:"tls"`
	Username     string  `toml:"username"`
	PasswordFile string  `toml:"password_file"`
	From         string  `toml:"from"`
	To           string  `toml:"to"` // one person; a channel each for more
}

// CommandEntry is a channel that runs a program of this machine.
type CommandEntry struct {
	Rules
	Run []string `toml:"run"` // the program and its arguments
}

// TopicEntry is a channel that publishes to the broker that readings come from.
type TopicEntry struct {
	Rules
	Topic        string `toml:"topic"`
	Username     string `toml:"username"` // where the broker inside has users; else those of [mqtt]
	PasswordFile string `toml:"password_file"`
}

// ServiceEntry is a channel over one of the services that the shoutrrr library knows.
type ServiceEntry struct {
	Rules
	URLFile string `toml:"url_file"` // the address holds the password
}

// entry is one channel of the settings.
type entry struct {
	table string
	way   home.ContactWay // of a contact
	Rules
	lacks string                           // the keys that it cannot do without, where one is missing
	make  func() (notify.Transport, error) // nil for one to browsers
}

// written lists the channels that are not to browsers, in the order of their tables.
func (c Config) written() []entry {
	var all []entry
	add := func(table string, r Rules, complete bool, needs string, make func() (notify.Transport, error)) {
		e := entry{table: table, Rules: r, make: make}
		if !complete || r.Name == "" {
			e.lacks = needs
		}
		all = append(all, e)
	}
	for _, w := range c.Webhook {
		add("webhook", w.Rules, (w.URL == "") != (w.URLFile == ""), "a name and a url, or a url_file", w.transport)
	}
	for _, m := range c.Mail {
		add("mail", m.Rules, m.Server != "" && m.From != "" && m.To != "", "a name, a server, a from and a to", m.transport)
	}
	for _, m := range c.Command {
		add("command", m.Rules, len(m.Run) > 0, `a name and a run, as ["/usr/local/bin/tell", "cats"]`, func() (notify.Transport, error) { return command.New(m.Run) })
	}
	for _, t := range c.Topic {
		add("topic", t.Rules, t.Topic != "", "a name and a topic", func() (notify.Transport, error) { return c.publisherFrom(t) })
	}
	for _, s := range c.Service {
		add("service", s.Rules, s.URLFile != "", "a name and a url_file", s.transport)
	}
	for _, k := range c.contacts {
		add(contactTable, rulesOf(k), true, "", func() (notify.Transport, error) { return c.contactOrMute(k), nil })
		all[len(all)-1].way = k.Way
	}
	return all
}

// entries lists the channels, those to browsers last.
func (c Config) entries() []entry {
	all := c.written()
	for _, b := range c.browsers() {
		e := entry{table: browserTable, Rules: b.Rules}
		if b.Name == "" {
			e.lacks = "a name"
		}
		all = append(all, e)
	}
	return all
}

// channels refuses channels that cannot work.
func (c Config) channels() error {
	seen := map[string]int{}
	for _, e := range c.entries() {
		seen[e.table]++
		if e.lacks != "" {
			return home.Hinted("read settings", fmt.Sprintf("Give each [[%s]] %s.", e.table, e.lacks), "%s number %d lacks one, or has two where one is meant", e.table, seen[e.table])
		}
	}
	if h := c.Heartbeat; h != nil && (h.URL == "") == (h.URLFile == "") {
		return home.Hinted("read settings", `Write url = "https://..." under [heartbeat], or url_file.`, "[heartbeat] has no url, or two")
	}
	if err := (notify.Policy{Channels: c.rules()}).Valid(); err != nil {
		return &home.Error{Op: "read settings", Hint: "Correct the channel of that name.", Err: err}
	}
	return nil
}

// Channels names the channels that are set.
func (c Config) Channels() []string {
	names := c.named()
	for _, b := range c.Browser {
		names = append(names, b.Name)
	}
	return names
}

// named are those that are not to browsers.
func (c Config) named() []string {
	var names []string
	for _, e := range c.written() {
		names = append(names, e.Name)
	}
	return names
}

// rules is what each channel is told, and when.
func (c Config) rules() []notify.Channel {
	var all []notify.Channel
	for _, e := range c.entries() {
		ch := e.rule(c)
		ch.Chart = e.table == "mail" || e.way == home.ByMail
		all = append(all, ch)
	}
	return all
}

func (r Rules) rule(c Config) notify.Channel {
	zone, quiet := c.Zone.location(), c.Quiet
	if r.Zone.Location != nil {
		zone = r.Zone.Location
	}
	if r.Quiet != nil {
		quiet = *r.Quiet
	}
	ch := notify.Channel{Name: r.Name, Least: home.Urgency(r.Least.text), After: r.After.Duration, For: r.For,
		Quiet: notify.Quiet{From: quiet.From.Clock, To: quiet.To.Clock, Zone: zone}}
	if r.Digest != nil {
		ch.Digest = notify.Digest{On: true, At: r.Digest.Clock, Zone: zone}
	}
	return ch
}

// routes makes the transport of each channel; browser makes those to browsers.
func (c Config) routes(browser func(channel string) (notify.Transport, error)) ([]notify.Route, error) {
	var routes []notify.Route
	rules := c.rules()
	for i, e := range c.entries() {
		if e.table == browserTable {
			e.make = func() (notify.Transport, error) { return browser(e.Name) }
		}
		t, err := e.make()
		if err != nil {
			return nil, inChannel(e.Name, err)
		}
		routes = append(routes, notify.Route{Channel: rules[i], Transport: t})
	}
	return routes, nil
}

func inChannel(name string, err error) error {
	return &home.Error{Op: "read settings", Hint: home.Hint(err), Err: fmt.Errorf("channel %q: %w", name, err)}
}
