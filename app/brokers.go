package app

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"weighbeam/home"
	"weighbeam/ingest/broker"
	"weighbeam/ingest/mqtt"
)

func (a *App) startBroker(context.Context) error {
	if a.cfg.Broker == nil {
		return nil
	}
	conf, err := a.cfg.Broker.inside()
	if err != nil {
		return err
	}
	conf.Log = a.opt.Log
	b, err := broker.Start(conf, a.sink())
	if err != nil {
		return err
	}
	a.broker = b
	a.onStop(func() {
		if err := b.Close(); err != nil {
			a.opt.Log.Error("closing the broker", "err", err)
		}
	})
	return nil
}

// inside is how the broker inside is started.
func (c BrokerConfig) inside() (broker.Config, error) {
	conf := broker.Config{Addr: c.Listen.String()}
	for _, u := range c.User {
		password, err := secret(u.PasswordFile)
		if err != nil {
			return conf, err
		}
		conf.Devices = append(conf.Devices, broker.Device{User: u.Name, Password: password, Topics: u.Topics})
	}
	return conf, nil
}

func (a *App) startSession(context.Context) error {
	c := a.cfg.MQTT
	if c == nil {
		return nil
	}
	a.changer.changing.Lock() // the household stays while the session begins with it
	defer a.changer.changing.Unlock()
	conf, err := c.outside(*a.house.Load())
	if err != nil {
		return err
	}
	conf.Memory, conf.Log = wholeFile(filepath.Join(filepath.Dir(a.cfg.Data), "mqtt-filters.json")), a.opt.Log
	session, err := mqtt.New(conf, a.sink())
	if err != nil {
		return err
	}
	a.session.Store(session)
	a.registry.MustRegister(session)
	a.spawn(func(ctx context.Context) {
		if err := session.Run(ctx); err != nil && ctx.Err() == nil {
			a.opt.Log.Error("the session with the broker ended", "err", err, "hint", home.Hint(err))
		}
	})
	return nil
}

// outside is how the session with the broker outside is made.
func (c MQTTConfig) outside(h home.Household) (mqtt.Config, error) {
	password, err := secret(c.PasswordFile)
	conf := mqtt.Config{Broker: c.Server, ClientID: c.Client, Filters: c.filters(h), User: c.Username, Password: password, TLS: c.files(), Clean: c.Clean}
	if w := c.Will; w != nil {
		conf.Will = &mqtt.Will{Topic: w.Topic, Payload: []byte(w.Message), QoS: byte(*c.QoS), Retain: w.Retain}
	}
	return conf, err
}

func (c MQTTConfig) files() mqtt.Files {
	return mqtt.Files{CA: c.CAFile, Cert: c.CertFile, Key: c.KeyFile}
}

// filters are what is subscribed to: what the settings say, and the topics of scales
// that lie outside of that.
func (c MQTTConfig) filters(h home.Household) []mqtt.Filter {
	var all []mqtt.Filter
	for _, topic := range c.Topics {
		all = append(all, mqtt.Filter{Topic: topic, QoS: byte(*c.QoS)})
	}
	for _, s := range h.Scales {
		for _, topic := range []string{s.Topic, s.TagTopic} {
			if topic != "" && !slices.ContainsFunc(all, func(f mqtt.Filter) bool { return f.Topic == topic }) {
				all = append(all, mqtt.Filter{Topic: topic, QoS: byte(*c.QoS), Spare: true})
			}
		}
	}
	return all
}

// secret reads a password from its file; no file is no password.
func secret(path string) (string, error) {
	if path == "" {
		return "", nil
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return "", &home.Error{Op: "read a secret", Hint: "Put it alone into that file, readable only by the program.", Err: err}
	}
	return strings.TrimRight(string(b), "\r\n"), nil
}
