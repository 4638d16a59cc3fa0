package app

import (
	"bytes"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"regexp"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"weighbeam/home"
)

// Config is what the settings file says. Every key may be left out; see
// [Defaults] for what holds then.
type Config struct {
	Data      string           `toml:"data"`   // the store, a file
	Listen    Address          `toml:"listen"` // where the pages are
	Link      string           `toml:"link"`   // address of the pages as others see it, for notices
	Door      DoorConfig       `toml:"door"`
	Household string           `toml:"household"`      // a household file, read at each start
	KeepLoad  int              `toml:"keep_load_days"` // raw load of scales; 0: for ever. All else is kept for ever
	Units     Units            `toml:"units"`
	Zone      Zone             `toml:"zone"` // of the dates in notices and of quiet hours
	Log       Level            `toml:"log"`
	Broker    *BrokerConfig    `toml:"broker"`
	MQTT      *MQTTConfig      `toml:"mqtt"`
	Device    []DeviceEntry    `toml:"device"`
	Influx    *InfluxConfig    `toml:"influx"`
	Detect    DetectConfig     `toml:"detect"`
	Quiet     QuietConfig      `toml:"quiet"`
	Webhook   []WebhookEntry   `toml:"webhook"`
	Mail      []MailEntry      `toml:"mail"`
	Command   []CommandEntry   `toml:"command"`
	Topic     []TopicEntry     `toml:"topic"`
	Service   []ServiceEntry   `toml:"service"`
	Browser   []BrowserEntry   `toml:"browser"`
	Heartbeat *HeartbeatConfig `toml:"heartbeat"`

	PushServices []string `toml:"push_services"` // hosts of push services besides the usual ones
	PushContact  string   `toml:"push_contact"`  // whom a push service can write to
	Practice     string   `toml:"practice"`      // name of the veterinary practice, for the go-now page
	Phone        string   `toml:"phone"`         // its telephone number
	Words        string   `toml:"words"`         // a file with the words of the home check in another language

	// What the household adds, see [Config.With].
	contacts []home.Contact
	secrets  map[string]string // of the contacts
	base     *Config           // without them
}

// BrokerConfig is the broker inside the program.
type BrokerConfig struct {
	Listen Address    `toml:"listen"`
	User   []UserFile `toml:"user"`
}

// InfluxConfig is a time-series engine that mirrors the store.
type InfluxConfig struct {
	URL       string `toml:"url"`
	TokenFile string `toml:"token_file"`
	Org       string `toml:"org"`
	Bucket    string `toml:"bucket"`
	Site      string `toml:"site"` // tags every point
}

// DeviceEntry is one device that may post readings over HTTP. Without any, only
// this machine may.
type DeviceEntry struct {
	Name      string   `toml:"name"`
	TokenFile string   `toml:"token_file"`
	Sources   []string `toml:"sources"` // the scales it speaks for
}

// UserFile is one device that may speak to the broker inside.
type UserFile struct {
	Name         string   `toml:"name"`
	PasswordFile string   `toml:"password_file"`
	Topics       []string `toml:"topics"`
}

// MQTTConfig is a broker outside.
type MQTTConfig struct {
	Server       string   `toml:"server"` // as mqtt://127.0.0.1:1883 or mqtts://broker:8883
	Client       string   `toml:"client"` // client id: the broker keeps messages under it
	Username     string   `toml:"username"`
	PasswordFile string   `toml:"password_file"`
	Topics       []string `toml:"topics"`
	QoS          *int     `toml:"qos"`
	CAFile       string   `toml:"ca_file"`
	CertFile     string   `toml:"cert_file"`
	KeyFile      string   `toml:"key_file"`

	Clean bool        `toml:"clean"` // the broker keeps nothing while the program is away
	Will  *WillConfig `toml:"will"`
}

// WillConfig is what the broker publishes when the program is gone without a word.
type WillConfig struct {
	Topic   string `toml:"topic"`
	Message string `toml:"message"`
	Retain  bool   `toml:"retain"`
}

// DetectConfig says how willing the program is to be wrong.
type DetectConfig struct {
	FalseFindings Budget `toml:"false_findings_per_cat_year"`
}

// QuietConfig is the span of the day in which only today and now come through.
type QuietConfig struct {
	From Clock `toml:"from"`
	To   Clock `toml:"to"`
}

// HeartbeatConfig is an address that is asked again and again while all is well.
type HeartbeatConfig struct {
	URL     string `toml:"url"`
	URLFile string `toml:"url_file"` // in place of url, where it holds a token
	Every   Wait   `toml:"every"`
}

// Defaults are the settings of a house that has no file: everything stays on
// this machine.
func Defaults() Config {
	return Config{
		Data:     "weighbeam-data/house.db",
		Listen:   Address{"127.0.0.1:8640"},
		Units:    Units{"kg"},
		KeepLoad: 60,
		Log:      Level{"info"},
		Detect:   DetectConfig{FalseFindings: 0.1},
	}
}

// defaultBroker is where the broker inside listens if no broker is named.
var defaultBroker = Address{"127.0.0.1:1883"}

var defaultQoS = 1

// ReadConfig reads the settings at path over [Defaults]. An unknown key or a bad
// value is an error that names the file, the line and what would do.
func ReadConfig(path string) (Config, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return Config{}, &home.Error{Op: "read settings", Err: err,
			Hint: "Give the path of a settings file with --config, or start without it to use the defaults."}
	}
	c, err := ParseConfig(text)
	if err != nil {
		return Config{}, atFile(path, err)
	}
	return c, nil
}

// ParseConfig reads settings from text over [Defaults].
func ParseConfig(text []byte) (Config, error) {
	c := Defaults()
	dec := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields()
	if err := dec.Decode(&c); err != nil {
		return Config{}, explain(err)
	}
	return c.complete()
}

// complete fills what follows from other keys and refuses what cannot work.
func (c Config) complete() (Config, error) {
	if c.Broker == nil && c.MQTT == nil {
		c.Broker = &BrokerConfig{}
	}
	if c.Broker != nil && c.Broker.Listen.text == "" {
		c.Broker.Listen = defaultBroker
	}
	if m := c.MQTT; m != nil {
		if m.Server == "" {
			return c, home.Hinted("read settings", `Write server = "mqtt://127.0.0.1:1883" under [mqtt].`, "[mqtt] has no server")
		}
		if m.Client == "" {
			m.Client = "weighbeam"
		}
		if len(m.Topics) == 0 {
			m.Topics = []string{"home/#"}
		}
		if m.QoS == nil {
			m.QoS = &defaultQoS
		}
		if *m.QoS < 0 || *m.QoS > 2 {
			return c, home.Hinted("read settings", "Write qos = 1 under [mqtt].", "qos is 0, 1 or 2, not %d", *m.QoS)
		}
	}
	if c.KeepLoad != 0 && c.KeepLoad < 7 {
		return c, home.Hinted("read settings", "Write 7 or more, or 0 to keep it for ever.", "keep_load_days is %d", c.KeepLoad)
	}
	if err := c.Detect.FalseFindings.valid(); err != nil {
		return c, err
	}
	if err := c.doorReach(); err != nil {
		return c, err
	}
	return c, c.channels()
}

// located is an error in a file at a line.
type located struct {
	file string
	line int
	err  error
}

func (l *located) Error() string {
	switch {
	case l.file == "":
		return fmt.Sprintf("line %d: %v", l.line, l.err)
	case l.line == 0:
		return fmt.Sprintf("%s: %v", l.file, l.err)
	}
	return fmt.Sprintf("%s line %d: %v", l.file, l.line, l.err)
}

func (l *located) Unwrap() error { return l.err }

// atFile adds the name of the file to an error from reading it.
func atFile(path string, err error) error {
	var l *located
	if errors.As(err, &l) {
		l.file = path
		return err
	}
	return &home.Error{Err: &located{file: path, err: err}}
}

// explain turns what the TOML library says into an error with line and mend.
func explain(err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		first := &strict.Errors[0]
		line, _ := first.Position()
		key := strings.Join(first.Key(), ".")
		hint := "Remove the key or correct its name; deploy/weighbeam.toml lists the keys."
		if at := elsewhere(key); at != "" {
			hint = "Its place is " + at + "."
		}
		return &home.Error{Op: "read settings", Hint: hint,
			Err: &located{line: line, err: fmt.Errorf("unknown key %q", key)}}
	}
	var bad *toml.DecodeError
	if errors.As(err, &bad) {
		line, _ := bad.Position()
		return &home.Error{Op: "read settings", Hint: "Correct the value on that line.",
			Err: &located{line: line, err: errors.New(plainTOML(bad))}}
	}
	return &home.Error{Op: "read settings", Err: err}
}

// misfit is how the TOML library says that a value is of the wrong type.
var misfit = regexp.MustCompile(`^cannot decode TOML (.+) into struct field \S+ of type (\S+)$`)

// plainTOML says what is wrong without the names of Go.
func plainTOML(bad *toml.DecodeError) string {
	text := strings.TrimPrefix(bad.Error(), "toml: ")
	m := misfit.FindStringSubmatch(text)
	if m == nil {
		return text
	}
	wants := map[string]string{"string": `text in quotes`, "bool": "true or false", "int": "a whole number", "float64": "a number"}[m[2]]
	if wants != "" {
		wants = ": write " + wants
	}
	return fmt.Sprintf("%s cannot be a TOML %s%s", strings.Join(bad.Key(), "."), m[1], wants)
}

// LogLevel is how much is to be logged.
func (c Config) LogLevel() slog.Level { return c.Log.slog() }
