package app

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"weighbeam/home"
)

// Every key that the sample shows as a comment is a key, and its value is one.
func TestReadConfig_SampleInFull(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "deploy", "weighbeam.toml"))
	if err != nil {
		t.Fatal(err)
	}
	setting := regexp.MustCompile(`(?m)^# ((\[|[a-z_]+ += ).*)$`)
	full := setting.ReplaceAllString(string(text), "$1")
	c, err := ParseConfig([]byte(full))
	if err != nil {
		t.Fatalf("%v (%s)", err, home.Hint(err))
	}
	if got := strings.Join(c.Channels(), " "); got != "house ada bell lamp phone tablet" {
		t.Errorf("channels %q", got)
	}
	if c.MQTT == nil || c.Heartbeat == nil || c.Influx == nil || c.Practice == "" || len(c.Device) != 1 || len(c.Broker.User) != 1 {
		t.Errorf("got %+v", c)
	}
	house := c.rules()[0]
	if house.Least != home.Book || house.Quiet.From != 21*60 || house.Digest.At != 8*60 || house.After.Hours() != 2 || house.For != "ada" {
		t.Errorf("rules of house: %+v", house)
	}
}

func TestParseConfig_RefusesChannels(t *testing.T) {
	for _, row := range []struct{ name, text, want string }{
		// Two channels of one name could not be told apart in what was told to whom.
		{"twice", "[[topic]]\nname=\"a\"\ntopic=\"x\"\n[[topic]]\nname=\"a\"\ntopic=\"y\"", "twice"},
		{"a name of the program", "[[topic]]\nname=\"page\"\ntopic=\"x\"", "taken"},
		{"two addresses", "[[webhook]]\nname=\"a\"\nurl=\"http://h\"\nurl_file=\"f\"", "webhook number 1"},
		{"nothing to run", "[[command]]\nname=\"a\"", "command number 1"},
		{"no topic", "[[topic]]\nname=\"a\"", "topic number 1"},
		{"no address file", "[[service]]\nname=\"a\"", "service number 1"},
		{"no length of time", "[[topic]]\nname=\"a\"\ntopic=\"x\"\nafter=\"soon\"", "line 4"},
		{"no urgency", "[[topic]]\nname=\"a\"\ntopic=\"x\"\nleast=\"urgent\"", "mention, book"},
		{"a stand-in for nobody", "[[topic]]\nname=\"a\"\ntopic=\"x\"\nafter=\"1h\"\nfor=\"b\"", "no channel"},
		{"a heartbeat to nowhere", "[heartbeat]\nevery=\"5m\"", "no url"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := ParseConfig([]byte(row.text))
			if err == nil || !strings.Contains(err.Error()+home.Hint(err), row.want) || home.Hint(err) == "" {
				t.Errorf("error %v, hint %q, want %q", err, home.Hint(err), row.want)
			}
		})
	}
}
