package app

import (
	"regexp"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"weighbeam/home"
)

// inText makes the scale of c in the text of a household file what it is in want. The
// text keeps its comments and order.
func (c Claim) inText(text []byte, want home.Household) ([]byte, error) {
	changed, entry, err := withScale(text, want, c.Scale.ID)
	if err != nil {
		return text, err
	}
	if got, err := ParseHousehold(changed); err != nil || got.Mark() != want.Mark() {
		return text, home.Hinted(opClaim, "Nothing was changed. Write this into the household file yourself, and start weighbeam again:\n\n"+entry,
			"the household file is written in a way that the program dares not change")
	}
	return changed, nil
}

// withScale returns text with the scale of that id as it is in h, and that entry alone.
func withScale(text []byte, h home.Household, id string) (changed []byte, entry string, err error) {
	s, _ := h.Scale(id)
	one, err := toml.Marshal(map[string][]scaleEntry{"scale": {scaleEntryOf(s)}})
	if err != nil {
		return nil, "", err
	}
	entry = strings.TrimSpace(string(one))
	lines := strings.Split(strings.TrimRight(string(text), "\n"), "\n")
	from, to := scaleLines(lines, id)
	if from < 0 {
		return []byte(strings.Join(lines, "\n") + "\n\n" + entry + "\n"), entry, nil
	}
	block := lines[from:to]
	for _, part := range []struct{ key, value string }{
		{"sends", string(s.Sends)}, {"unit", s.Unit}, {"payload", s.Payload}, {"topic", s.Topic},
	} {
		block = withKey(block, part.key, part.value)
	}
	return []byte(strings.Join(slices.Concat(lines[:from], block, lines[to:]), "\n") + "\n"), entry, nil
}

var idLine = regexp.MustCompile(`^\s*id\s*=\s*["']([^"']*)["']`)

// scaleLines is where the entry of a scale stands, from -1 where it does not.
func scaleLines(lines []string, id string) (from, to int) {
	from = -1
	found := false
	for i, line := range lines {
		if line = strings.TrimSpace(line); strings.HasPrefix(line, "[") {
			if found {
				return from, i
			}
			if from = -1; strings.HasPrefix(line, "[[scale]]") {
				from = i
			}
		}
		if m := idLine.FindStringSubmatch(line); from >= 0 && m != nil && m[1] == id {
			found = true
		}
	}
	if !found {
		return -1, 0
	}
	return from, len(lines)
}

// withKey sets a key of an entry, keeping a comment behind it; an empty value
// takes the line away.
func withKey(block []string, key, value string) []string {
	quoted, _ := toml.Marshal(map[string]string{key: value}) // text can always be written
	_, literal, _ := strings.Cut(strings.TrimSpace(string(quoted)), " = ")
	line := regexp.MustCompile(`^(\s*` + key + `\s*=\s*)(?:"[^"\\]*"|'[^']*')(.*)$`)
	for i, old := range block {
		m := line.FindStringSubmatch(old)
		switch {
		case m == nil:
			continue
		case value == "":
			return slices.Delete(slices.Clone(block), i, i+1)
		}
		block = slices.Clone(block)
		block[i] = m[1] + literal + m[2]
		return block
	}
	if value == "" {
		return block
	}
	return slices.Insert(slices.Clone(block), 1, key+" = "+literal)
}
