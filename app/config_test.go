package app

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

func TestParseConfig_Refuses(t *testing.T) {
	for _, row := range []struct {
		name, text, want string
	}{
		// A key that nobody reads is a setting that silently does not hold.
		{"unknown key", "\nlistn = \"127.0.0.1:1\"", `line 2: unknown key "listn"`},
		// The same inside a table, where the line matters more.
		{"unknown key in a table", "[mqtt]\nserver = \"mqtt://h\"\nqoss = 1", `line 3: unknown key "mqtt.qoss"`},
		// A key in another place than its own, as after it moved, is told its place.
		{"key of a table", "false_findings_per_cat_year = 0.2", "Its place is detect.false_findings_per_cat_year in the settings."},
		{"key of another table", "[mqtt]\nserver = \"mqtt://h\"\n[broker]\nqos = 1", "Its place is mqtt.qos in the settings."},
		{"one of many", "[mqtt]\nserver = \"mqtt://h\"\ntopic = \"home/#\"", "Its place is mqtt.topics in the settings."},
		{"table of the other file", "[[scale]]\nid = \"box-1\"", "Its place is scale in the household file."},
		{"key of many tables", "digest = \"08:00\"", "Remove the key or correct its name"},
		// Each value says what would do.
		{"no address", "data = \"x\"\nlisten = \"8640\"", "line 2"},
		{"no unit", `units = "stone"`, "use kg, lb"},
		{"no zone", `zone = "Middle/Earth"`, "time zone"},
		{"no time of day", "[quiet]\nfrom = \"late\"", "line 2"},
		// Said in words of the file, not of the program.
		{"wrong type", `data = 7`, "line 1: data cannot be a TOML integer: write text in quotes"},
		{"wrong type in a table", "[mqtt]\nserver = \"mqtt://h\"\nqos = \"1\"", "line 3: mqtt.qos cannot be a TOML string"},
		{"broken syntax", "data = \"x", "line 1"},
		// A budget of no false findings at all finds nothing, one of a thousand finds noise.
		{"budget", "[detect]\nfalse_findings_per_cat_year = 0", "0.001 and 10"},
		{"qos", "[mqtt]\nserver=\"mqtt://h\"\nqos = 3", "qos is 0, 1 or 2"},
		{"no server", "[mqtt]", "has no server"},
		{"channel without an address", "[[webhook]]\nname = \"x\"", "webhook number 1"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := ParseConfig([]byte(row.text))
			if err == nil {
				t.Fatal("accepted")
			}
			if all := err.Error() + " " + home.Hint(err); !strings.Contains(all, row.want) || home.Hint(err) == "" {
				t.Errorf("error %q, hint %q, want %q", err, home.Hint(err), row.want)
			}
		})
	}
}

func TestParseConfig_Defaults(t *testing.T) {
	c, err := ParseConfig(nil)
	if err != nil {
		t.Fatal(err)
	}
	// With no file nothing leaves this machine, and a broker is there to speak to.
	if !home.Loopback(c.Listen.String()) || c.Broker == nil || !home.Loopback(c.Broker.Listen.String()) || c.MQTT != nil {
		t.Errorf("got %+v", c)
	}
	c, err = ParseConfig([]byte("[mqtt]\nserver = \"mqtt://127.0.0.1:1883\""))
	if err != nil || c.Broker != nil || *c.MQTT.QoS != 1 || c.MQTT.Client == "" || len(c.MQTT.Topics) == 0 {
		t.Errorf("with a broker outside: %+v, %v", c.MQTT, err)
	}
}

// The sample that users copy from is read, whole, and says what holds anyway.
func TestReadConfig_Sample(t *testing.T) {
	c, err := ReadConfig(filepath.Join("..", "deploy", "weighbeam.toml"))
	if err != nil {
		t.Fatal(err)
	}
	d := Defaults()
	if c.Listen != d.Listen || c.Data != d.Data || c.Units != d.Units || c.Detect != d.Detect {
		t.Errorf("the sample differs from the defaults: %+v", c)
	}
}

func TestParseHousehold_RoundTrip(t *testing.T) {
	want := home.Household{
		Cats: []home.Cat{
			{ID: "juniper", Name: "Juniper", Born: time.Date(2014, 5, 2, 0, 0, 0, 0, time.UTC), Sex: "female", Neutered: true, WeightKg: 4.6},
			{ID: "moss", Name: "Moss \"the\" Cat", Born: time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC), BornYear: true},
		},
		Scales: []home.Scale{
			{ID: "box-1", Kind: home.LitterBox, Cats: []string{"juniper"}, Topic: "home/litter/1", Payload: "senml", Unit: "kg"},
			{ID: "floor-1", Kind: home.Floor, Sends: home.Weight},
		},
		Contacts: []home.Contact{
			{ID: "ada", Way: home.ByMail, Least: home.Book, Digest: "08:00", To: "ada@example.org", Server: "mail.example.org:587", Encrypt: "tls", User: "ada", From: "cats@example.org"},
			{ID: "ben", Way: home.ByService, After: 90 * time.Minute, For: "ada", QuietFrom: "22:00", QuietTo: "07:00"},
		},
		Practice: "Mill Lane", Phone: "+44 20 7946 0000", Units: "lb", Zone: "Europe/Vienna", QuietFrom: "22:00", QuietTo: "07:00",
	}
	text, err := FormatHousehold(want)
	if err != nil {
		t.Fatal(err)
	}
	got, err := ParseHousehold(text)
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, %v\nfrom %s", got, err, text)
	}
}

func TestReadHousehold_Refuses(t *testing.T) {
	for _, row := range []struct{ name, text, want string }{
		// A scale that names a cat who is not there would never name anybody.
		{"stranger", "[[scale]]\nid=\"b\"\nkind=\"litter-box\"\ncats=[\"nobody\"]", "nobody"},
		{"two of one id", "[[cat]]\nid=\"a\"\nname=\"A\"\n[[cat]]\nid=\"a\"\nname=\"B\"", "taken"},
		{"bad date", "[[cat]]\nid=\"a\"\nname=\"A\"\nborn=\"long ago\"", "date"},
		{"unknown payload", "[[scale]]\nid=\"b\"\nkind=\"floor\"\npayload=\"xml\"", "xml"},
		{"a contact nobody can reach", "[[contact]]\nname=\"ada\"\nway=\"pigeon\"", "pigeon"},
		{"unknown key", "[[cat]]\nid=\"a\"\nname=\"A\"\ncolour=\"grey\"", "line 4"},
	} {
		t.Run(row.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "household.toml")
			if err := os.WriteFile(path, []byte(row.text), 0o600); err != nil {
				t.Fatal(err)
			}
			_, err := ReadHousehold(path)
			if err == nil || !strings.Contains(err.Error(), row.want) || !strings.Contains(err.Error(), path) {
				t.Errorf("got %v, want %q and the path", err, row.want)
			}
		})
	}
}
