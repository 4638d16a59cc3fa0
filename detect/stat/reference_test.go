package stat

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// readJSON fills into from a file of testdata. Each such file names its source.
func readJSON(t *testing.T, name string, into any) {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// readCSV returns the rows of a file of testdata by the names in its header;
// an empty field is NaN.
func readCSV(t *testing.T, name string) []map[string]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var out []map[string]float64
	for _, row := range rows[1:] {
		m := map[string]float64{}
		for i, field := range row {
			v, err := strconv.ParseFloat(field, 64)
			if err != nil {
				v = math.NaN()
			}
			m[rows[0][i]] = v
		}
		out = append(out, m)
	}
	return out
}

// column is one column of rows that readCSV returned.
func column(rows []map[string]float64, name string) []float64 {
	out := make([]float64, len(rows))
	for i, row := range rows {
		out[i] = row[name]
	}
	return out
}

// near fails the test where got is not within tol of want.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g within %g", what, got, want, tol)
	}
}

// nile is the annual flow of the Nile at Aswan, 1871 to 1970 (R datasets::Nile).
func nile(t *testing.T) []float64 {
	t.Helper()
	var file struct {
		MannKendallSen map[string]struct{ Y []float64 } `json:"mann_kendall_sen"`
	}
	readJSON(t, "trend_tests.json", &file)
	y := file.MannKendallSen["nile"].Y
	if len(y) != 100 {
		t.Fatalf("nile has %d values", len(y))
	}
	return y
}
