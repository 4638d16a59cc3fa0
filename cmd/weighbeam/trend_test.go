package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
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

// TestTrend_ReadsWhatSpreadsheetsWrite: a mark of UTF-8, dates without a time, and
// values that are missing, which do not move the places of the others.
func TestTrend_ReadsWhatSpreadsheetsWrite(t *testing.T) {
	text := "\ufefftime,value\r\n"
	day := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range 80 {
		value := fmt.Sprintf("%.2f", 5+0.05*float64(i*7%5)-2*float64(i/50))
		if i%9 == 4 {
			value = [...]string{"", "NA", "NaN"}[i%3]
		}
		text += day.AddDate(0, 0, i).Format(time.DateOnly) + "," + value + "\r\n"
	}
	path := write(t, "sheet.csv", text)
	if code, out := call(t, "trend", "--control", "30", path); code != 0 || strings.Count(out, "2025-02-20 00:00 UTC") != 6 || !strings.Contains(out, "by chance: p < 0.0001.") {
		t.Errorf("code %d\n%s", code, out)
	}
	code, out := call(t, "trend", "--json", "--control", "30", path)
	var got trendJSON
	if err := json.Unmarshal([]byte(out), &got); code != 0 || err != nil {
		t.Fatalf("code %d, %v\n%s", code, err, out)
	}
	if got.N != 71 || len(got.Changepoints) != 1 || got.Changepoints[0] != 50 || got.Onset != "2025-02-20T00:00:00Z" {
		t.Errorf("%d samples, changes %v, onset %v", got.N, got.Changepoints, got.Onset)
	}
	if got.Overall == nil || got.Overall.Slope >= 0 || got.Control.CUSUM.Signal != 50 {
		t.Errorf("overall %+v, control %+v", got.Overall, got.Control)
	}
}

func TestTrend_Refuses(t *testing.T) {
	for _, row := range []struct{ name, text, want string }{
		{"no header", "1,2\n3,4\n", "time,value"},
		{"no number", "time,value\n1,2\n2,x\n", "line 3"},
		{"no time", "time,value\nlater,2\n", "RFC 3339"},
		{"not in order", "time,value\n2,2\n1,1\n", "Sort the file"},
		{"a time that is none", "time,value\n1,2\nNaN,1\n", "line 3"},
		{"dates after numbers", "time,value\n0,2\n2025-01-02,1\n2025-01-03,1\n", "line 3"},
		{"numbers after dates", "time,value\n2025-01-02,1\n7,1\n", "line 3"},
	} {
		if code, out := call(t, "trend", write(t, "x.csv", row.text)); code != 1 || !strings.Contains(out, row.want) {
			t.Errorf("%s: code %d\n%s", row.name, code, out)
		}
	}
	// Huge steps at nearly one time have a pace that no number holds.
	steep := "time,value\n2,-100\n2.000000029476915,1e300\n2.0000000297584997,300\n"
	if code, out := call(t, "trend", "--json", write(t, "x.csv", steep)); code != 0 || !strings.Contains(out, "changepoints") {
		t.Errorf("code %d\n%s", code, out)
	}
	// Too few samples are said to be too few.
	if code, out := call(t, "trend", write(t, "x.csv", "time,value\n1,2\n")); code != 0 || !strings.Contains(out, "too few") {
		t.Errorf("code %d\n%s", code, out)
	}
	if code, out := call(t, "trend", "--json", write(t, "x.csv", "time,value\n1,2\n2,3\n")); code != 0 || !strings.Contains(out, `"pace": null`) || !strings.Contains(out, `"pace_interval": []`) {
		t.Errorf("code %d, a pace of two samples\n%s", code, out)
	}
}

// NIST/SEMATECH e-Handbook 6.3.2.3, the CUSUM example: twenty samples about 325,
// here behind a baseline of that target and the deviation 1.27 (the handbook's
// sigma): its shift from sample 16 on is signalled, and by both charts.
func TestTrend_Control(t *testing.T) {
	text := "time,value\n"
	base := []float64{-1.6, 1.1, -0.4, 0.9, -1.2, 0.3, 1.7, -0.8, 0.1, -0.2, 0.6, -1.0, 1.3, -0.5, 0.4, -0.1, 0.8, -0.7, 0.2, 0}
	x := []float64{324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625, 325.150,
		328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350}
	for i, v := range base {
		text += fmt.Sprintf("%d,%g\n", i, 325+1.27*v)
	}
	for i, v := range x {
		text += fmt.Sprintf("%d,%g\n", len(base)+i, v)
	}
	path := write(t, "cusum.csv", text)
	code, out := call(t, "trend", "--json", "--control", "20", path)
	var got trendJSON
	if err := json.Unmarshal([]byte(out), &got); code != 0 || err != nil || got.Control == nil {
		t.Fatalf("code %d, %v\n%s", code, err, out)
	}
	// The handbook's chart signals first at its sample 14 or 15 for limits near these.
	for name, s := range map[string]int{"CUSUM": got.Control.CUSUM.Signal, "EWMA": got.Control.EWMA.Signal} {
		if s < 32 || s > 36 {
			t.Errorf("%s signals at sample %d", name, s)
		}
	}
	// Two-sided CUSUM with k 0.5: h 4.77 for a run length of 370 (Hawkins 1993, as in the handbook).
	if h := got.Control.CUSUM.Limit; h < 4.7 || h > 4.85 {
		t.Errorf("limit %g", h)
	}
	if code, out := call(t, "trend", "--control", "20", path); code != 0 || !strings.Contains(out, "CUSUM") || !strings.Contains(out, "signals at sample") {
		t.Errorf("code %d\n%s", code, out)
	}
	for _, bad := range [][]string{{"--control", "5"}, {"--control", "500"}, {"--control", "20", "--run", "1"}, {"--counts=-3"}, {"--counts", "30"}} {
		if code, out := call(t, append(append([]string{"trend"}, bad...), path)...); code != 1 || !strings.Contains(out, "Give") {
			t.Errorf("%v: code %d\n%s", bad, code, out)
		}
	}
}

// Counts of breaths over 30 s: 10 to 11, then 15 to 16.
func TestTrend_Counts(t *testing.T) {
	text := "time,value\n"
	for i, n := range []int{10, 11, 10, 11, 10, 11, 15, 16, 15, 16, 15, 16} {
		text += fmt.Sprintf("%d,%d\n", i, n)
	}
	code, out := call(t, "trend", "--json", "--counts", "30", write(t, "c.csv", text))
	var got trendJSON
	if err := json.Unmarshal([]byte(out), &got); code != 0 || err != nil || got.Counts == nil {
		t.Fatalf("code %d, %v\n%s", code, err, out)
	}
	if c := got.Counts; c.PerMinute != 26 || c.Interval[0] > 24 || c.Interval[1] < 28 || c.Ratio < 1.4 || c.P > 0.02 || c.Dispersion > 1 {
		t.Errorf("%+v", *c)
	}
	if o := got.Overall; o == nil || o.Slope <= 0 || o.P > 0.01 {
		t.Errorf("%+v", o)
	}
}
