package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"weighbeam/home"
)

// bathroom is a scale of a test that says 1.04 kg for each kg, and 3 kg for none,
// five times a second.
type bathroom struct {
	url string
	on  atomic.Int64 // g
}

func (b *bathroom) run(t *testing.T) {
	stop, done := make(chan struct{}), make(chan struct{})
	t.Cleanup(func() { close(stop); <-done })
	go func() {
		defer close(done)
		tick := time.NewTicker(200 * time.Millisecond)
		defer tick.Stop()
		for i := 0; ; i++ {
			kg := 3 + 1.04*float64(b.on.Load())/1000 + 0.001*float64(i%2)
			body := fmt.Sprintf(`[{"bn":"box-1/","n":"load","u":"kg","v":%.4f}]`, kg)
			if resp, err := http.Post(b.url+"/api/v1/readings", "application/senml+json", strings.NewReader(body)); err == nil {
				resp.Body.Close()
			}
			select {
			case <-stop:
				return
			case <-tick.C:
			}
		}
	}()
}

// told starts the program with somebody who types.
func told(t *testing.T, args ...string) (*program, io.WriteCloser) {
	t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.Close() })
	p := launchTold(t, "", r, args...)
	r.Close()
	return p, w
}

// A person calibrates a scale beside the running program: empty, then a known mass,
// each read when it is at rest. What the program makes of the scale from then on
// is corrected.
func TestCalibrate_BesideTheProgram(t *testing.T) {
	t.Parallel() // it waits more than it works
	household := write(t, "household.toml", "[[cat]]\nid = \"juniper\"\nname = \"Juniper\"\n[[scale]]\nid = \"box-1\"\nkind = \"litter-box\"\n")
	config := write(t, "w.toml", fmt.Sprintf("listen = \"127.0.0.1:%d\"\nhousehold = %q\n[broker]\nlisten = \"127.0.0.1:%d\"\n", port(t), household, port(t)))
	serve := launch(t, "serve", "--config", config)
	scale := &bathroom{url: serve.pages()}
	if code, out := call(t, "calibrate", "box-9", "--config", config); code != 1 || !strings.Contains(out, "id of a scale") {
		t.Errorf("a scale that is not there: code %d\n%s", code, out)
	}
	if code, out := call(t, "calibrate", "box-1", "--config", config); code != 1 || !strings.Contains(out, "nobody answered") {
		t.Errorf("with nobody to answer: code %d\n%s", code, out)
	}
	scale.run(t)
	p, types := told(t, "calibrate", "box-1", "--config", config, "--since", "always", "--by", "Ada")
	say := func(text string) {
		if _, err := io.WriteString(types, text+"\n"); err != nil {
			t.Fatal(err)
		}
	}
	p.says("press Enter")
	say("")
	p.says("Empty reads 3.000")
	say("a brick")
	p.says("no known mass")
	scale.on.Store(5000)
	say("5 kg +- 2 g")
	p.says("5 kg (± 1.2 g) reads 8.200")
	say("")
	p.says("good to")
	p.says("Every load so far")
	<-p.done
	if p.code != 0 || !strings.Contains(p.output(), "  gain           0.961") {
		t.Errorf("ended with %d:\n%s", p.code, p.output())
	}
}

// Without a person, known loads come from a file; where no program runs they go
// into the store. They go out with an export and into a replay.
func TestCalibrate_PointsOfAFile(t *testing.T) {
	data := filepath.Join(t.TempDir(), "house.db")
	readings := write(t, "readings.csv", "time,source,quantity,value\n2025-03-03T12:00:00Z,box-1,weight,4.16\n")
	points := write(t, "points.csv", "mass,sd,reading\n0,0,0.1\n0,0,0.101\n5,0.002,5.3\n5,0.002,5.301\n2,0.001,2.18\n")
	if code, out := call(t, "import", "--data", data, readings); code != 0 {
		t.Fatalf("code %d\n%s", code, out)
	}
	if code, out := call(t, "calibrate", "box-1", "--data", data, "--points", points, "--try"); code != 0 || !strings.Contains(out, "this was a try") {
		t.Errorf("code %d\n%s", code, out)
	}
	code, out := call(t, "calibrate", "box-1", "--data", data, "--points", points, "--since", "2025-01-01", "--json")
	var got struct {
		Calibration home.Calibration
		Verdict     string
		Kept        bool
	}
	if err := json.Unmarshal([]byte(out), &got); code != 0 || err != nil || math.Abs(got.Calibration.Gain-5/5.2) > 1e-3 || !got.Kept || !strings.HasPrefix(got.Verdict, "good to") {
		t.Fatalf("code %d, %v\n%s", code, err, out)
	}
	all := filepath.Join(t.TempDir(), "all.jsonl")
	if code, out := call(t, "export", "--data", data, "--to", all); code != 0 {
		t.Fatalf("code %d\n%s", code, out)
	}
	household := write(t, "h.toml", "[[cat]]\nid = \"juniper\"\nname = \"Juniper\"\n[[scale]]\nid = \"box-1\"\nkind = \"litter-box\"\n")
	if code, out := call(t, "replay", "--json", "--household", household, "--calibrations", all, readings); code != 0 || !strings.Contains(out, `"mass_kg":3.90`) {
		t.Errorf("replayed: code %d\n%s", code, out)
	}
	if code, out := call(t, "calibrate", "box-1", "--data", data, "--points", write(t, "p.csv", "mass,reading\n0,0.1\ntwo,5\n")); code != 1 || !strings.Contains(out, "line 3") {
		t.Errorf("a bad row: code %d\n%s", code, out)
	}
	if code, out := call(t, "calibrate", "box-1", "--data", data, "--points", points, "--since", "lately"); code != 1 || !strings.Contains(out, "2025-03-31") {
		t.Errorf("a bad date: code %d\n%s", code, out)
	}
}

// What is recorded from one time to another is read as well as what is typed.
func TestParsePoints_Forms(t *testing.T) {
	for _, row := range []struct {
		name, text string
		points     int
		want       string // part of the error; "" for none
	}{
		{"readings of one load", "mass,sd,reading\n0,,1\n0,,1.1\n2,0.001,3\n", 2, ""},
		{"spans", "mass,from,to\n0,2025-03-03T12:00:00Z,2025-03-03T12:01:00Z\n2,2025-03-03T12:02:00Z,2025-03-03T12:03:00Z\n", 2, ""},
		{"a spreadsheet's mark and spaces", "\ufeffMass, Reading\n0, 1\n", 1, ""},
		{"nothing", "", 0, "line 1"},
		{"no mass", "mass,reading\n,1\n", 0, "no mass"},
		{"neither", "mass,sd\n2,0.1\n", 0, "neither"},
		{"no time", "mass,from,to\n2,yesterday,today\n", 0, "RFC 3339"},
		{"a short row", "mass,sd,reading\n2,0.1\n", 0, "fields"},
	} {
		got, err := parsePoints(strings.NewReader(row.text))
		if len(got) != row.points || row.want == "" && err != nil || row.want != "" && (err == nil || !strings.Contains(err.Error(), row.want)) {
			t.Errorf("%s: %+v, %v", row.name, got, err)
		}
	}
}

func FuzzParsePoints(f *testing.F) {
	f.Add("mass,sd,reading\n0,0,1\n2,0.001,3\n")
	f.Add("mass,from,to\n2,2025-03-03T12:02:00Z,2025-03-03T12:03:00Z\n")
	f.Fuzz(func(t *testing.T, text string) {
		points, err := parsePoints(strings.NewReader(text))
		for _, p := range points {
			if err == nil && len(p.Load) == 0 && p.From.IsZero() {
				t.Errorf("a point of nothing: %+v", p)
			}
		}
	})
}
