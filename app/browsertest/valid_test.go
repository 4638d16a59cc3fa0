package browsertest

import (
	"context"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"weighbeam/dashboards/fakehouse"
)

// Every page, picture and style sheet is valid, by the Nu Html Checker that
// validator.w3.org runs.
func TestPages_ByNuChecker_AreValid(t *testing.T) {
	java, err := exec.LookPath("java")
	if err != nil {
		absent(t, "java", "apt-get install default-jre-headless")
	}
	jar, dir := npmPath(t, nuChecker), t.TempDir()
	keep := func(url, name string) {
		if err := os.WriteFile(filepath.Join(dir, name), body(t, url), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, l := range looks() {
		keep(serve(t, l.house())+l.path, l.name+".html")
	}
	lived := serve(t, fakehouse.Lived())
	keep(lived+"/style.css", "style.css")
	for name, path := range map[string]string{"weight": "/cats/mustard/weight.svg", "breaths": "/cats/plum/breaths.svg?size=narrow", "spark": "/cats/plum/weight.svg?size=spark", "icon": "/icon.svg"} {
		keep(lived+path, name+".svg")
	}
	ctx, cancel := context.WithTimeout(t.Context(), 90*time.Second)
	defer cancel()
	out, err := exec.CommandContext(ctx, java, "-jar", jar, "--also-check-css", "--also-check-svg", dir).CombinedOutput()
	if err != nil {
		t.Errorf("%v:\n%s", err, out)
	}
}

// body is what an address answers, whatever the status.
func body(t *testing.T, url string) []byte {
	t.Helper()
	resp, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = resp.Body.Close() }()
	content, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return content
}
