package ingest

import (
	"fmt"
	"strings"
)

// ValidFilter returns nil if f is an MQTT topic filter that can be subscribed to
// here, or what is wrong with it (MQTT 3.1.1, section 4.7). Shared subscriptions are
// refused: they split the readings of one scale between subscribers and lose their
// order. Split sites by filter instead.
func ValidFilter(f string) error {
	switch {
	case f == "":
		return fmt.Errorf("a topic filter is empty")
	case len(f) > 65535:
		return fmt.Errorf("a topic filter has %d bytes: at most 65535", len(f))
	case strings.EqualFold(f, "$share") || len(f) > 6 && strings.EqualFold(f[:7], "$share/"):
		return fmt.Errorf("topic filter %q is a shared subscription, which would split one scale's readings and lose their order: "+
			"give each process filters of its own", f)
	case strings.ContainsRune(f, 0):
		return fmt.Errorf("topic filter %q holds a NUL", f)
	}
	levels := strings.Split(f, "/")
	for i, level := range levels {
		if strings.Contains(level, "#") && (level != "#" || i != len(levels)-1) {
			return fmt.Errorf("topic filter %q: '#' stands alone and last", f)
		}
		if strings.Contains(level, "+") && level != "+" {
			return fmt.Errorf("topic filter %q: '+' stands alone between slashes", f)
		}
	}
	return nil
}

// Match reports whether topic matches the filter (MQTT 3.1.1, section 4.7). A
// wildcard in front does not match topics that start with '$'.
func Match(filter, topic string) bool {
	if strings.HasPrefix(topic, "$") && !strings.HasPrefix(filter, "$") {
		return false
	}
	for {
		f, fRest, fMore := strings.Cut(filter, "/")
		if f == "#" {
			return true
		}
		t, tRest, tMore := strings.Cut(topic, "/")
		if f != "+" && f != t {
			return false
		}
		if !tMore {
			return !fMore || fRest == "#" // "a/#" matches "a" as well
		}
		if !fMore {
			return false
		}
		filter, topic = fRest, tRest
	}
}

// Covers reports whether every topic that meets filter b meets filter a. Brokers may
// deliver a message once for each subscription that it meets, so the covered one of
// two is left out.
func Covers(a, b string) bool {
	if strings.HasSuffix(b, "#") && !strings.HasSuffix(a, "#") {
		return false
	}
	if parent, all := strings.CutSuffix(b, "/#"); all && !Match(a, parent) {
		return false // "a/#" is met by "a" as well, which meets no "a/+/#"
	}
	return Match(a, b) // a '+' of b is met by '+' and '#' of a alone, as a level of that name
}

// Overlap reports whether some topic meets both filters.
func Overlap(a, b string) bool {
	if strings.HasPrefix(a, "$") != strings.HasPrefix(b, "$") {
		return false // a wildcard in front meets no topic that starts so
	}
	return overlap(strings.Split(a, "/"), strings.Split(b, "/"))
}

func overlap(a, b []string) bool {
	switch {
	case len(a) == 0 || len(b) == 0: // "a/#" is met by "a" as well
		rest := append(a, b...)
		return len(rest) == 0 || rest[0] == "#"
	case a[0] == "#" || b[0] == "#":
		return true
	case a[0] != b[0] && a[0] != "+" && b[0] != "+":
		return false
	}
	return overlap(a[1:], b[1:])
}
