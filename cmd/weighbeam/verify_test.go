package main

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
)

// Beside the running program everything is well, also to the broker that it is
// connected to, whose session stays; with the broker gone the exit code says so.
func TestVerify_BesideTheProgram(t *testing.T) {
	broker, stop := startMosquitto(t, port(t))
	settings := write(t, "weighbeam.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n[mqtt]\nserver = \"mqtt://%s\"\n[broker]\nlisten = \"127.0.0.1:%d\"\n",
		t.TempDir()+"/house.db", port(t), broker, port(t)))
	p := launch(t, "serve", "--config", settings)
	url := p.pages()
	eventually(t, "connected", func() (bool, string) {
		status, body := get(url + "/healthz")
		return status == 200, body
	})
	out, code := once(t, "", "verify", "--config", settings)
	if code != 0 || strings.Contains(out, "wrong") || strings.Count(out, "weighbeam runs") != 2 || !strings.Contains(out, "lets weighbeam in") {
		t.Errorf("%d\n%s", code, out)
	}
	if status, body := get(url + "/healthz"); status != 200 {
		t.Errorf("verifying disturbed the program: %s", body)
	}
	stop()
	out, code = once(t, "", "verify", "--config", settings, "--json")
	var answer struct {
		Well     bool
		Verdicts []struct{ Part, State, Text, Do string }
	}
	text, _, _ := strings.Cut(out, "weighbeam: ") // what is wrong is said on standard error, too
	if err := json.Unmarshal([]byte(text), &answer); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	wrong := 0
	for _, v := range answer.Verdicts {
		if v.State == "wrong" {
			wrong++
			if v.Part != "broker" || v.Do == "" {
				t.Errorf("wrong is %+v", v)
			}
		}
	}
	if code != 1 || answer.Well || wrong != 1 {
		t.Errorf("code %d, well %v, %d wrong", code, answer.Well, wrong)
	}
}
