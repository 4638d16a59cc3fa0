package app

import (
	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/httpapi"
)

// Usable reads what the settings name, as a start does: the household file, and who may
// send. It opens no store and asks nobody. The error is the one of that start.
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
	if c.MQTT != nil {
		if _, err := secret(c.MQTT.PasswordFile); err != nil {
			return err
		}
	}
	if c.Broker == nil {
		return nil
	}
	inside, err := c.Broker.inside()
	if err != nil {
		return err
	}
	return inside.Valid()
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
