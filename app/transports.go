package app

import (
	"maps"
	"net"
	"slices"
	"strconv"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/notify"
	"weighbeam/notify/mail"
	"weighbeam/notify/shout"
	"weighbeam/notify/topic"
	"weighbeam/notify/webhook"
)

func (w WebhookEntry) transport() (notify.Transport, error) {
	conf := webhook.Config{Body: w.Body, Header: map[string]notify.Secret{}}
	var err error
	if conf.URL, err = hiddenOr(w.URL, w.URLFile); err != nil {
		return nil, err
	}
	if conf.Key, err = hiddenOr("", w.KeyFile); err != nil {
		return nil, err
	}
	for name, value := range w.Headers {
		conf.Header[name] = notify.Secret(value)
	}
	for _, name := range slices.Sorted(maps.Keys(w.HeaderFiles)) {
		if conf.Header[name], err = hiddenOr("", w.HeaderFiles[name]); err != nil {
			return nil, err
		}
	}
	return webhook.New(conf)
}

// hiddenOr is the text itself, or what the file at path holds.
func hiddenOr(text, path string) (notify.Secret, error) {
	if text != "" {
		return notify.Secret(text), nil
	}
	s, err := secret(path)
	return notify.Secret(s), err
}

func (m MailEntry) transport() (notify.Transport, error) {
	host, port, err := mailServer(m.Server)
	if err != nil {
		return nil, err
	}
	password, err := hiddenOr("", m.PasswordFile)
	if err != nil {
		return nil, err
	}
	return mail.New(mail.Config{Host: host, Port: port, Encrypt: m.TLS.text, User: m.Username, Password: password,
		From: m.From, To: m.To})
}

func mailServer(server string) (host string, port int, err error) {
	host, text, err := net.SplitHostPort(server)
	if err != nil {
		return "", 0, home.Hinted("read settings", `Write the server as "mail.example.org:587".`, "server %q has no port", server)
	}
	n, err := strconv.ParseUint(text, 10, 16)
	if err != nil {
		return "", 0, home.Hinted("read settings", "Write the port as a number.", "server %q", server)
	}
	return host, int(n), nil
}

func (s ServiceEntry) transport() (notify.Transport, error) {
	url, err := hiddenOr("", s.URLFile)
	if err != nil {
		return nil, err
	}
	return shout.New(shout.Config{URL: url})
}

// publisherFrom is publisher, with the password in a file.
func (c Config) publisherFrom(t TopicEntry) (notify.Transport, error) {
	password, err := hiddenOr("", t.PasswordFile)
	if err != nil {
		return nil, err
	}
	return c.publisher(t, password)
}

// publisher is a transport to a topic of the broker outside, or else of the one inside.
func (c Config) publisher(t TopicEntry, password notify.Secret) (notify.Transport, error) {
	b := topic.Broker{User: t.Username, Password: password}
	switch {
	case c.MQTT != nil:
		var err error
		if b.TLS, err = c.MQTT.files().Config(); err != nil {
			return nil, err
		}
		b.Server = c.MQTT.Server
		if t.Username == "" {
			if b.Password, err = hiddenOr("", c.MQTT.PasswordFile); err != nil {
				return nil, err
			}
			b.User = c.MQTT.Username
		}
	default:
		b.Server = "mqtt://" + c.Broker.Listen.String()
	}
	publish, err := b.Publisher()
	if err != nil {
		return nil, err
	}
	return topic.New(t.Topic, publish)
}

// ownTopics are those that notices are published on, each with the channel that does:
// what comes back from them is no reading.
func (c Config) ownTopics() map[string]string {
	own := map[string]string{}
	for _, t := range c.Topic {
		own[t.Topic] = t.Name
	}
	for _, k := range c.contacts {
		if k.Way == home.ByTopic {
			own[k.To] = k.ID
		}
	}
	return own
}

// crossed is what is wrong where a scale listens to a topic that notices are published
// on: each would be taken for the other.
func (c Config) crossed(h home.Household) error {
	own := c.ownTopics()
	for _, topic := range slices.Sorted(maps.Keys(own)) {
		for _, s := range h.Scales {
			for _, filter := range []string{s.Topic, s.TagTopic} {
				if filter != "" && ingest.Match(filter, topic) {
					return home.Hinted("look at the topics", "Let the notices go to a topic that no scale listens to.", "%s is told on %s, where the scale %s listens", own[topic], topic, s.ID)
				}
			}
		}
	}
	return nil
}
