package manual

import (
	"embed"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"weighbeam/home"
)

//go:embed words
var wordFiles embed.FS

// english is the language whose file has every key.
const english = "en"

// catalogue holds every word that the room shows, by key: "wrong.number".
type catalogue map[string]string

// readCatalogue reads words/LANGUAGE.toml of files over the English one.
func readCatalogue(files fs.FS, language string) (catalogue, error) {
	c, err := readWords(files, english)
	if err != nil || language == "" || language == english {
		return c, err
	}
	other, err := readWords(files, language)
	if err != nil {
		return nil, home.Hinted("read the words of "+language, "Languages: "+strings.Join(languages(files), ", ")+".", "%w", err)
	}
	maps.Copy(c, other)
	return c, nil
}

func readWords(files fs.FS, language string) (catalogue, error) {
	text, err := fs.ReadFile(files, "words/"+language+".toml")
	if err != nil {
		return nil, err
	}
	var sections map[string]map[string]string
	if err := toml.Unmarshal(text, &sections); err != nil {
		return nil, err
	}
	c := catalogue{}
	for section, words := range sections {
		for key, text := range words {
			c[section+"."+key] = text
		}
	}
	return c, nil
}

// languages lists the languages that there are words for.
func languages(files fs.FS) []string {
	names, _ := fs.Glob(files, "words/*.toml") // the pattern is a constant
	for i, n := range names {
		names[i] = strings.TrimSuffix(strings.TrimPrefix(n, "words/"), ".toml")
	}
	return slices.Sorted(slices.Values(names))
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
