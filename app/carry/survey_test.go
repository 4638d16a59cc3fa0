package carry

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"weighbeam/home"
	"weighbeam/store/mirror/history"
)

// What an engine has of days to come is not taken, and would not be.
func TestImportHistory_OfTheFuture_IsNotTaken(t *testing.T) {
	engine := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		fmt.Fprint(w, "#datatype,string,long,dateTime:RFC3339,double\n#group,false,false,false,false\n#default,_result,,,\n,result,table,_time,_value\n"+
			",,0,2025-03-03T11:00:00Z,4.5\n,,0,2035-03-03T11:00:00Z,4.5\n")
	}))
	t.Cleanup(engine.Close)
	db := openStore(t, t.TempDir())
	defer db.Close()
	cfg, m := history.Config{URL: engine.URL}, history.Mapping{Source: "box-1", Quantity: "weight"}
	var bad []int
	all, err := SurveyHistory(t.Context(), home.Household{}, cfg, "q", m, noon, func(n int, _ error) { bad = append(bad, n) })
	if err != nil || len(all) != 1 || all[0].Rows != 1 || fmt.Sprint(bad) != "[2]" {
		t.Errorf("%+v, rows %v, %v", all, bad, err)
	}
	got, err := ImportHistory(t.Context(), db, db.Household, cfg, "q", m, noon, func(_ string, n int, _ error) { bad = append(bad, n) })
	if want := (Imported{Tally: home.Tally{Stored: 1, SetAside: 1}, Rows: 2, Unknown: "scale box-1"}); err != nil || got != want || fmt.Sprint(bad) != "[2 2]" {
		t.Errorf("%+v, rows %v, %v", got, bad, err)
	}
}

// What a file would bring is said series by series, and which rows it would not bring.
func TestSurveyFiles_SaysWhatWouldCome(t *testing.T) {
	path := filepath.Join(t.TempDir(), "in.csv")
	text := "time,source,quantity,value,unit,cat\n" +
		"2025-03-04T12:00:00Z,box-1,weight,4600,g,\n" +
		"2025-03-03T12:00:00Z,box-1,weight,4.5,kg,\n" +
		"yesterday,box-1,weight,4.5,kg,\n" +
		"2052-03-03T12:00:00Z,box-1,weight,4.5,kg,\n" +
		"2025-03-03T12:00:00Z,hand,weight,4.4,kg,felix\n"
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	h := home.Household{Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}}}
	var bad []string
	got, err := SurveyFiles(t.Context(), h, []string{path}, noon.AddDate(0, 1, 0), func(file string, n int, err error) { bad = append(bad, fmt.Sprint(file, " ", n)) })
	want := "[box-1 weight: 2 rows from 2025-03-03 to 2025-03-04, 4.5 to 4.6 kg hand weight of felix: 1 rows from 2025-03-03 to 2025-03-03, 4.4 to 4.4 kg; the household does not know it]"
	if err != nil || fmt.Sprint(got) != want || fmt.Sprint(bad) != "[in.csv 4 in.csv 5]" {
		t.Errorf("got %v, lines %v, %v", got, bad, err)
	}
	for _, path := range []string{filepath.Join(t.TempDir(), "none.csv"), strings.TrimSuffix(path, ".csv") + ".jsonl"} {
		if _, err := SurveyFiles(t.Context(), h, []string{path}, noon, nil); home.Hint(err) == "" {
			t.Errorf("%s: %v", path, err)
		}
	}
}
