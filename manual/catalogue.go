package manual

import (
	_ "embed"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/language"

	"weighbeam/home"
)

//go:embed words/en.toml
var englishText []byte

// english has every key.
var english = func() catalogue {
	_, c, err := parseWords(englishText)
	if err != nil {
		panic("manual: " + err.Error()) // the file is part of the program
	}
	return c
}()

// catalogue holds every word that the room shows, by key: "wrong.number".
type catalogue map[string]string

// Words are the words of the room in another language than English. The zero
// value is English.
type Words struct {
	lang string // BCP 47
	own  catalogue
}

// ParseWords reads words laid out as words/en.toml, with the key lang above them.
// What is missing stays English. A key that English has not, or a {name} that is not
// put in there, is an error: it would never be shown as meant.
func ParseWords(text []byte) (Words, error) {
	const op = "read the words of the home check"
	lang, own, err := parseWords(text)
	if err != nil {
		return Words{}, &home.Error{Op: op, Err: err, Hint: `Write each word as key = "text" under its [section].`}
	}
	if _, err := language.Parse(lang); err != nil {
		return Words{}, home.Hinted(op, `Write lang = "de", for one, at the top.`, "lang %q is no language", lang)
	}
	for _, key := range slices.Sorted(maps.Keys(own)) {
		if _, ok := english[key]; !ok {
			return Words{}, home.Hinted(op, "Remove it, or correct its name: the keys are those of manual/words/en.toml.", "unknown key %q", key)
		}
		for _, name := range names(own[key]) {
			if !slices.Contains(names(english[key]), name) {
				return Words{}, home.Hinted(op, "English reads: "+english[key], "%s: nothing is put in for %s", key, name)
			}
		}
	}
	return Words{lang: lang, own: own}, nil
}

// catalogue is the words over the English ones.
func (w Words) catalogue() catalogue {
	if len(w.own) == 0 {
		return english // nobody writes into it
	}
	c := maps.Clone(english)
	maps.Copy(c, w.own)
	return c
}

var name = regexp.MustCompile(`\{[a-z]+\}`)

func names(text string) []string { return name.FindAllString(text, -1) }

func parseWords(text []byte) (lang string, c catalogue, err error) {
	var file map[string]any
	if err := toml.Unmarshal(text, &file); err != nil {
		return "", nil, err
	}
	lang, _ = file["lang"].(string)
	delete(file, "lang")
	c = catalogue{}
	for section, words := range file {
		table, ok := words.(map[string]any)
		if !ok {
			return "", nil, fmt.Errorf("%s stands in no section", section)
		}
		for key, text := range table {
			words, ok := text.(string)
			if !ok {
				return "", nil, fmt.Errorf("%s.%s is no text", section, key)
			}
			c[section+"."+key] = words
		}
	}
	return lang, c, nil
}

// say is the text under key, with each {name} of pairs put in. A key without
// words is shown as it is: better an odd word than none.
func (c catalogue) say(key string, pairs ...any) string {
	text, ok := c[key]
	if !ok {
		return key
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		text = strings.ReplaceAll(text, "{"+fmt.Sprint(pairs[i])+"}", fmt.Sprint(pairs[i+1]))
	}
	return text
}

// has reports whether there are words under key.
func (c catalogue) has(key string) bool {
	_, ok := c[key]
	return ok
}
