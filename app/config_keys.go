package app

import (
	"reflect"
	"slices"
	"strings"
)

// elsewhere says where the last part of a key that is not known has its place, in the
// settings or the household file: whether it moved there or always stood there. It
// says nothing where that would be a guess among many.
func elsewhere(key string) string {
	parts := strings.Split(key, ".")
	last := parts[len(parts)-1]
	for _, file := range []struct {
		name string
		keys []string
	}{
		{"the settings", keysNamed(reflect.TypeFor[Config](), "", last, nil)},
		{"the household file", keysNamed(reflect.TypeFor[householdFile](), "", last, nil)},
	} {
		switch n := len(file.keys); {
		case n > 3:
			return ""
		case n > 0:
			return strings.Join(file.keys, " or ") + " in " + file.name
		}
	}
	return ""
}

// keysNamed appends the keys of a table, and of those inside it, that have a name.
func keysNamed(table reflect.Type, at, name string, found []string) []string {
	for table.Kind() == reflect.Pointer || table.Kind() == reflect.Slice {
		table = table.Elem()
	}
	if table.Kind() != reflect.Struct {
		return found
	}
	for f := range table.Fields() {
		own, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
		switch {
		case own == "" && f.Anonymous: // its keys are those of the table
			found = keysNamed(f.Type, at, name, found)
		case own == "" || own == "-":
		default:
			if own == name && !slices.Contains(found, at+own) {
				found = append(found, at+own)
			}
			found = keysNamed(f.Type, at+own+".", name, found)
		}
	}
	return found
}
