package app

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"weighbeam/home"
)

// A check of the settings refuses what a start would, with the same words.
func TestConfig_Usable_RefusesAsAStartDoes(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"twice.toml": "[[scale]]\nid = \"a\"\nkind = \"floor\"\ntopic = \"x/#/y\"\n", "token": "short", "good.toml": "[[scale]]\nid = \"a\"\nkind = \"floor\"\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, row := range []struct {
		text, want string
	}{
		{`household = "none.toml"`, "none.toml"},
		// A topic that no broker knows.
		{`household = "twice.toml"`, "x/#/y"},
		{"[broker]\nlisten = \"0.0.0.0:1885\"", "no device has credentials"},
		{"[broker]\n[[broker.user]]\nname = \"box\"\npassword_file = \"none\"\ntopics = [\"home/#\"]", "secret"},
		{"[[device]]\nname = \"box\"\ntoken_file = \"none\"\nsources = [\"a\"]", "secret"},
		// A token that can be guessed.
		{"[[device]]\nname = \"box\"\ntoken_file = \"token\"\nsources = [\"a\"]", "no usable token"},
		{"[mqtt]\nserver = \"mqtt://127.0.0.1\"\npassword_file = \"none\"", "secret"},
		{"[mqtt]\nserver = \"mqtts://127.0.0.1\"\nca_file = \"none\"", "none"},
		{"[mqtt]\nserver = \"127.0.0.1:1883\"", "address"},
		// A filter that would split the readings of one scale.
		{"[mqtt]\nserver = \"mqtt://127.0.0.1\"\ntopics = [\"$share/a/home/#\"]", "shared subscription"},
		{"[mqtt]\nserver = \"mqtt://127.0.0.1\"\ntopics = [\"home/#\", \"home/#\"]", "twice"},
		{"[mqtt]\nserver = \"mqtt://127.0.0.1\"\n[mqtt.will]\ntopic = \"gone/#\"", "last will"},
		{`words = "none"`, "words"},
		{"[door]\nscrape_token_file = \"none\"", "secret"},
		{"[door]\ncert_file = \"none\"\nkey_file = \"none\"", "none"},
		{"[influx]\nurl = \"http://127.0.0.1:1\"\nbucket = \"a\"\ntoken_file = \"none\"", "secret"},
		{"[[webhook]]\nname = \"a\"\nurl_file = \"none\"", "channel \"a\""},
		{"[heartbeat]\nurl_file = \"none\"", "secret"},
		{`household = "good.toml"`, ""},
	} {
		text := row.text
		for _, name := range []string{"none.toml", "twice.toml", "good.toml", "none", "token"} {
			text = strings.ReplaceAll(text, `"`+name+`"`, `"`+filepath.Join(dir, name)+`"`)
		}
		c, err := ParseConfig([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		switch err := c.Usable(); {
		case row.want == "" && err != nil:
			t.Errorf("%s: %v", row.text, err)
		case row.want != "" && (err == nil || !strings.Contains(err.Error(), row.want)):
			t.Errorf("%s: got %v, want %q", row.text, err, row.want)
		}
		if row.want == "" {
			continue
		}
		if c.Broker != nil && c.Broker.Listen == defaultBroker {
			c.Broker.Listen = Address{"127.0.0.1:0"}
		}
		c.Data, c.Listen = filepath.Join(t.TempDir(), "house.db"), Address{"127.0.0.1:0"}
		if a, err := Start(t.Context(), c, Options{}); err == nil {
			a.Stop()
			t.Errorf("%s: it starts", row.text)
		} else if want := c.Usable(); err.Error() != want.Error() || home.Hint(err) != home.Hint(want) {
			t.Errorf("%s: a start says %v, the check %v", row.text, err, want)
		}
	}
}
