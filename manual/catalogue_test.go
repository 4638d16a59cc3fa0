package manual

import (
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"weighbeam/home"
)

// literal is a text in source or template that can be a key, or begin one.
var literal = regexp.MustCompile(`"([a-z][a-z-]*\.[a-zA-Z0-9.-]*)"`)

// Each key that the room asks for has words, and there are none that nobody asks
// for: a translator's work is neither lost nor wanting.
func TestEnglish_HasWhatTheRoomSays(t *testing.T) {
	var files []string
	for _, pattern := range []string{"*.go", "templates/*.html", "templates/*.js"} {
		some, err := filepath.Glob(pattern)
		if err != nil || len(some) == 0 {
			t.Fatalf("%s: %v, %v", pattern, some, err)
		}
		files = append(files, some...)
	}
	asked, begun := map[string]bool{}, []string{}
	sections := map[string]bool{}
	for key := range english {
		section, _, _ := strings.Cut(key, ".")
		sections[section] = true
	}
	for _, path := range files {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, found := range literal.FindAllSubmatch(text, -1) {
			key := string(found[1])
			section, _, _ := strings.Cut(key, ".")
			switch filepath.Ext(key) {
			case ".html", ".js", ".css", ".toml":
				continue
			}
			switch {
			case !sections[section]:
			case strings.HasSuffix(key, ".") || strings.HasSuffix(key, "-"):
				begun = append(begun, key)
			default:
				asked[key] = true
			}
		}
	}
	for key := range asked {
		if !english.has(key) {
			t.Errorf("no words under %s", key)
		}
	}
	for _, key := range slices.Sorted(maps.Keys(english)) {
		if !asked[key] && !slices.ContainsFunc(begun, func(start string) bool { return strings.HasPrefix(key, start) }) {
			t.Errorf("nobody asks for %s", key)
		}
	}
}

// Whatever can be chosen has words.
func TestEnglish_NamesEveryChoice(t *testing.T) {
	var keys []string
	for _, f := range home.RedFlags() {
		keys = append(keys, "flag."+string(f))
	}
	for _, p := range home.Parts() {
		keys = append(keys, "part."+string(p))
	}
	for _, p := range home.Places() {
		keys = append(keys, "place."+string(p))
	}
	for _, k := range home.GivenKinds() {
		keys = append(keys, "given-kind."+string(k))
	}
	for _, k := range home.Takens() {
		keys = append(keys, "taken."+string(k))
	}
	for _, key := range keys {
		if !english.has(key) {
			t.Errorf("no words under %s", key)
		}
	}
}

// A second language is a file: what it has is shown, marked as that language, and
// the rest stays English.
func TestWords_SecondLanguage_IsShown(t *testing.T) {
	words, err := ParseWords([]byte("lang = \"de\"\n[form]\ntitle-of = \"Zu Hause nachgesehen: {cat}\"\nsave = \"Speichern\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	w := get(t, New(lived(), Options{Words: words}), "/check/fig")
	says(t, w, 200, "Zu Hause nachgesehen: Fig", `<div lang="de">`, "Speichern", en("form.lead"))
	says(t, get(t, New(lived(), Options{}), "/check/fig"), 200, en("form.save")) // another house of the same process
}

func TestParseWords_Bad_SaysWhat(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"no language", "[form]\ntitle = \"x\"", "language"},
		{"odd language", "lang = \"!\"\n[form]\ntitle = \"x\"", "language"},
		// it would never be shown
		{"unknown key", "lang = \"de\"\n[form]\ntitel = \"x\"", "form.titel"},
		// it would show braces to a reader
		{"unknown name", "lang = \"de\"\n[form]\ntitle-of = \"{katze}\"", "{katze}"},
		{"no text", "lang = \"de\"\n[form]\ntitle = 3", "form.title"},
		{"no section", "lang = \"de\"\ntitle = \"x\"", "section"},
		{"no TOML", "lang: de", "toml"},
	} {
		_, err := ParseWords([]byte(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) || home.Hint(err) == "" {
			t.Errorf("%s: %v, hint %q; want %q in it", c.name, err, home.Hint(err), c.want)
		}
	}
}
