package app

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"weighbeam/home"
)

// What a file would bring is said series by series, and which rows it would not bring.
func TestSurveyFiles_SaysWhatWouldCome(t *testing.T) {
	path := filepath.Join(t.TempDir(), "in.csv")
	text := "time,source,quantity,value,unit,cat\n" +
		"2025-03-04T12:00:00Z,box-1,weight,4600,g,\n" +
		"2025-03-03T12:00:00Z,box-1,weight,4.5,kg,\n" +
		"yesterday,box-1,weight,4.5,kg,\n" +
		"2025-03-03T12:00:00Z,hand,weight,4.4,kg,felix\n"
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	h := home.Household{Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}}}
	var bad []string
	got, err := SurveyFiles(t.Context(), h, []string{path}, func(file string, n int, err error) { bad = append(bad, fmt.Sprint(file, " ", n)) })
	want := "[box-1 weight: 2 rows from 2025-03-03 to 2025-03-04, 4.5 to 4.6 kg hand weight of felix: 1 rows from 2025-03-03 to 2025-03-03, 4.4 to 4.4 kg; the household does not know it]"
	if err != nil || fmt.Sprint(got) != want || fmt.Sprint(bad) != "[in.csv 4]" {
		t.Errorf("got %v, lines %v, %v", got, bad, err)
	}
	for _, path := range []string{filepath.Join(t.TempDir(), "none.csv"), strings.TrimSuffix(path, ".csv") + ".jsonl"} {
		if _, err := SurveyFiles(t.Context(), h, []string{path}, nil); home.Hint(err) == "" {
			t.Errorf("%s: %v", path, err)
		}
	}
}
