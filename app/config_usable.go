package app

import (
	"weighbeam/app/door"
	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/httpapi"
	"weighbeam/ingest/mqtt"
	"weighbeam/notify"
)

// Usable reads what the settings name, as a start does: the household file, who may
// send, who is told, who may look, and the brokers. It opens no store and asks nobody.
// The error is the one of that start.
func (c Config) Usable() error {
	h := home.Household{}
	if c.Household != "" {
		var err error
		if h, err = ReadHousehold(c.Household); err != nil {
			return err
		}
	}
	router, err := ingest.NewRouter(h)
	if err != nil {
		return err
	}
	devices, err := c.devices()
	if err != nil {
		return err
	}
	if _, err := httpapi.New(httpapi.Config{Devices: devices}, nil, router, nil); err != nil {
		return err
	}
	for _, part := range []func() error{c.tellable, c.seeable, c.insideUsable, func() error { return c.outsideUsable(h) }} {
		if err := part(); err != nil {
			return err
		}
	}
	return nil
}

// tellable looks at the channels, the heartbeat and the mirror.
func (c Config) tellable() error {
	if _, err := c.routes(func(string) (notify.Transport, error) { return nil, nil }); err != nil {
		return err
	}
	if c.Heartbeat != nil {
		if _, err := hiddenOr(c.Heartbeat.URL, c.Heartbeat.URLFile); err != nil {
			return err
		}
	}
	if c.Influx == nil {
		return nil
	}
	m, err := c.newMirror(nil, nil)
	if err == nil {
		m.Close()
	}
	return err
}

// seeable looks at the pages and the door before them.
func (c Config) seeable() error {
	if _, err := c.formWords(); err != nil {
		return err
	}
	conf, err := c.doorConfig()
	if err != nil {
		return err
	}
	if conf.TLS {
		if _, err := door.NewCertificate(c.Door.CertFile, c.Door.KeyFile); err != nil {
			return err
		}
	}
	return conf.Valid()
}

func (c Config) insideUsable() error {
	if c.Broker == nil {
		return nil
	}
	inside, err := c.Broker.inside()
	if err != nil {
		return err
	}
	return inside.Valid()
}

func (c Config) outsideUsable(h home.Household) error {
	if c.MQTT == nil {
		return nil
	}
	outside, err := c.MQTT.outside(h)
	if err != nil {
		return err
	}
	_, err = mqtt.New(outside, nil)
	return err
}

// devices are those that may post readings, with their tokens.
func (c Config) devices() ([]httpapi.Device, error) {
	devices := c.senders()
	for i, d := range c.Device {
		var err error
		if devices[i].Token, err = secret(d.TokenFile); err != nil {
			return nil, err
		}
	}
	return devices, nil
}
