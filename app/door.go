package app

import (
	"weighbeam/app/door"
	"weighbeam/dashboards"
)

// DoorConfig says who may see the pages, and over what.
type DoorConfig struct {
	Person          []PersonEntry `toml:"person"`
	CertFile        string        `toml:"cert_file"`
	KeyFile         string        `toml:"key_file"`
	Proxies         []string      `toml:"proxies"` // addresses or ranges of the proxies before the pages
	Plain           bool          `toml:"plain"`   // passwords may cross the network readable
	ScrapeTokenFile string        `toml:"scrape_token_file"`
}

// PersonEntry is somebody who may sign in.
type PersonEntry struct {
	Name         string `toml:"name"`
	Role         string `toml:"role"`          // keeper or viewer; empty: keeper
	PasswordFile string `toml:"password_file"` // holds the hash
}

// doorReach checks the door as far as no secret is needed for it.
func (c Config) doorReach() error {
	d := c.Door
	people := make([]door.Person, len(d.Person))
	return door.Config{Listen: c.Listen.String(), People: people, Proxies: d.Proxies,
		TLS: d.CertFile != "" || d.KeyFile != "", Plain: d.Plain}.Reach()
}

// doorConfig is the door with its secrets, but for what only a running program has.
func (c Config) doorConfig() (door.Config, error) {
	d := c.Door
	conf := door.Config{
		Listen: c.Listen.String(), Link: c.Link, Proxies: d.Proxies, Plain: d.Plain,
		TLS: d.CertFile != "" || d.KeyFile != "", Devices: len(c.Device) > 0,
	}
	for _, p := range d.Person {
		hash, err := secret(p.PasswordFile)
		if err != nil {
			return conf, err
		}
		role := door.Role(p.Role)
		if role == "" {
			role = door.Keeper
		}
		conf.People = append(conf.People, door.Person{Name: p.Name, Role: role, Hash: hash})
	}
	var err error
	conf.Scrape, err = secret(d.ScrapeTokenFile)
	return conf, err
}

// door is what stands before the pages, and reads the certificate where there is one.
func (a *App) door() (*door.Door, error) {
	conf, err := a.cfg.doorConfig()
	if err != nil {
		return nil, err
	}
	conf.Sessions, conf.Frame = a.store, dashboards.NewFrame(a.look())
	if conf.TLS {
		if a.certificate, err = door.NewCertificate(a.cfg.Door.CertFile, a.cfg.Door.KeyFile); err != nil {
			return nil, err
		}
	}
	return door.New(conf, a.opt.Log)
}
