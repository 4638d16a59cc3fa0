package app

import (
	"fmt"
	"net"
	"strconv"

	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/mail"
	"weighbeam/notify/webhook"
)

// policy is who hears what, with the household as it is now.
func (a *App) policy() notify.Policy {
	return notify.Policy{
		House:     *a.house.Load(),
		Channels:  a.cfg.channelRules(),
		Reminders: notify.UsualReminders(),
		Words:     notify.Words{Base: a.cfg.Link, Pounds: a.cfg.Units.text == "lb", Zone: a.cfg.Zone.location()},
	}
}

func (c Config) channelRules() []notify.Channel {
	quiet := notify.Quiet{From: c.Quiet.From.Clock, To: c.Quiet.To.Clock, Zone: c.Zone.location()}
	var rules []notify.Channel
	for _, w := range c.Webhook {
		rules = append(rules, notify.Channel{Name: w.Name, Least: home.Urgency(w.Least.text), Quiet: quiet})
	}
	for _, m := range c.Mail {
		rules = append(rules, notify.Channel{Name: m.Name, Least: home.Urgency(m.Least.text), Quiet: quiet})
	}
	return rules
}

// routes makes the transport of each channel.
func (c Config) routes() ([]notify.Route, error) {
	transports := map[string]notify.Transport{}
	for _, w := range c.Webhook {
		key, err := secret(w.KeyFile)
		if err != nil {
			return nil, err
		}
		if transports[w.Name], err = webhook.New(webhook.Config{URL: notify.Secret(w.URL), Key: notify.Secret(key)}); err != nil {
			return nil, inChannel(w.Name, err)
		}
	}
	for _, m := range c.Mail {
		t, err := m.transport()
		if err != nil {
			return nil, inChannel(m.Name, err)
		}
		transports[m.Name] = t
	}
	var routes []notify.Route
	for _, rule := range c.channelRules() {
		routes = append(routes, notify.Route{Channel: rule, Transport: transports[rule.Name]})
	}
	return routes, nil
}

func (m MailEntry) transport() (notify.Transport, error) {
	host, portText, err := net.SplitHostPort(m.Server)
	if err != nil {
		return nil, home.Hinted("read settings", `Write the server as "mail.example.org:587".`, "server %q has no port", m.Server)
	}
	port, err := strconv.ParseUint(portText, 10, 16)
	if err != nil {
		return nil, home.Hinted("read settings", "Write the port as a number.", "server %q", m.Server)
	}
	password, err := secret(m.PasswordFile)
	if err != nil {
		return nil, err
	}
	return mail.New(mail.Config{Host: host, Port: int(port), Encrypt: m.TLS.text, User: m.Username, Password: notify.Secret(password),
		From: m.From, To: m.To})
}

func inChannel(name string, err error) error {
	return &home.Error{Op: "read settings", Err: fmt.Errorf("channel %q: %w", name, err)}
}
