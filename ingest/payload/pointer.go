package payload

import (
	"fmt"
	"strconv"
	"strings"
)

// pointer compiles a JSON Pointer (RFC 6901).
func pointer(path string) (finder, error) {
	tokens := strings.Split(path, "/")[1:]
	for i, tok := range tokens {
		if n := len(tok); strings.HasSuffix(tok, "~") || strings.Count(tok, "~") != strings.Count(tok, "~0")+strings.Count(tok, "~1") {
			return nil, fmt.Errorf("path %q: '~' stands only in ~0 and ~1 (part of %d bytes)", path, n)
		}
		tokens[i] = strings.NewReplacer("~1", "/", "~0", "~").Replace(tok)
	}
	return func(doc any) (any, error) {
		for i, tok := range tokens {
			next, ok := child(doc, tok)
			if !ok {
				return nil, fmt.Errorf("nothing at /%s", strings.Join(tokens[:i+1], "/"))
			}
			doc = next
		}
		return doc, nil
	}, nil
}

// child is the member or element that tok names.
func child(doc any, tok string) (any, bool) {
	switch d := doc.(type) {
	case map[string]any:
		v, ok := d[tok]
		return v, ok
	case []any:
		i, err := strconv.ParseUint(tok, 10, 31)
		if err != nil || (len(tok) > 1 && tok[0] == '0') || tok[0] == '+' || int(i) >= len(d) {
			return nil, false
		}
		return d[i], true
	}
	return nil, false
}
