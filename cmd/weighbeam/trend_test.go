package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The annual flow of the Nile, 1871 to 1970, fell after 1898, when the first dam
// at Aswan was begun (Cobb 1978; R package strucchange: break after observation
// 28, 90 % and more within 1895 to 1902).
func TestTrend_Nile(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "detect", "stat", "testdata", "nile_local_level.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows := csv.NewReader(f)
	rows.Comment = '#'
	table, err := rows.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range table[0] {
		column[name] = i
	}
	text := "time,value\n"
	for _, row := range table[1:] {
		text += fmt.Sprintf("%s-07-01T00:00:00Z,%s\n", row[column["year"]], row[column["y"]])
	}
	path := write(t, "nile.csv", text)
	code, out := call(t, "trend", "--json", path)
	var got trendJSON
	if err := json.Unmarshal([]byte(out), &got); code != 0 || err != nil {
		t.Fatalf("code %d, %v\n%s", code, err, out)
	}
	if got.N != 100 || len(got.Changepoints) != 1 || got.Changepoints[0] != 28 || !strings.HasPrefix(fmt.Sprint(got.Onset), "189") {
		t.Errorf("got %+v", got)
	}
	if code, out := call(t, "trend", path); code != 0 || !strings.Contains(out, "1899") {
		t.Errorf("code %d\n%s", code, out)
	}
}

func TestTrend_Refuses(t *testing.T) {
	for _, row := range []struct{ name, text, want string }{
		{"no header", "1,2\n3,4\n", "time,value"},
		{"no number", "time,value\n1,2\n2,x\n", "line 3"},
		{"no time", "time,value\nlater,2\n", "RFC 3339"},
		{"not in order", "time,value\n2,2\n1,1\n", "Sort the file"},
	} {
		if code, out := call(t, "trend", write(t, "x.csv", row.text)); code != 1 || !strings.Contains(out, row.want) {
			t.Errorf("%s: code %d\n%s", row.name, code, out)
		}
	}
	// Too few samples are said to be too few.
	if code, out := call(t, "trend", write(t, "x.csv", "time,value\n1,2\n")); code != 0 || !strings.Contains(out, "too few") {
		t.Errorf("code %d\n%s", code, out)
	}
}
