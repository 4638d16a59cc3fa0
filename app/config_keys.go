package app

import (
	"reflect"
	"slices"
	"strings"
)

// elsewhere says where the last part of a key that is not known has its place, in the
// settings or the household file: as one or as many in the same table, or wherever it
// moved to or always stood. It says nothing where that would be a guess among many.
func elsewhere(key string) string {
	files := []struct {
		name  string
		table reflect.Type
	}{
		{"the settings", reflect.TypeFor[Config]()},
		{"the household file", reflect.TypeFor[householdFile]()},
	}
	for _, near := range []string{key + "s", strings.TrimSuffix(key, "s")} {
		for _, file := range files {
			if near != key && slices.Contains(keysNamed(file.table, "", lastOf(near), nil), near) {
				return near + " in " + file.name
			}
		}
	}
	for _, file := range files {
		switch keys := keysNamed(file.table, "", lastOf(key), nil); {
		case len(keys) > 3:
			return ""
		case len(keys) > 0:
			return strings.Join(keys, " or ") + " in " + file.name
		}
	}
	return ""
}

func lastOf(key string) string { return key[strings.LastIndexByte(key, '.')+1:] }

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
