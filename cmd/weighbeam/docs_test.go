package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"weighbeam/app"
)

// block is a fenced block of a page for people.
type block struct{ kind, text string }

// blocks reads those of a page.
func blocks(t *testing.T, path string) []block {
	t.Helper()
	page, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var all []block
	for _, m := range regexp.MustCompile("(?ms)^```([^\n]*)\n(.*?)^```$").FindAllStringSubmatch(string(page), -1) {
		all = append(all, block{m[1], m[2]})
	}
	return all
}

// reader does what a page says, in a folder of its own, with the program and ports
// of the test in place of the usual ones.
type reader struct {
	t      *testing.T
	dir    string
	ports  *strings.Replacer
	path   string
	output string
}

func newReader(t *testing.T) *reader {
	t.Helper()
	bin := t.TempDir()
	self, err := filepath.Abs(programPath(t))
	if err != nil {
		t.Fatal(err)
	}
	script := fmt.Sprintf("#!/bin/sh\nWEIGHBEAM_BE_THE_PROGRAM=1 exec %q \"$@\"\n", self)
	if err := os.WriteFile(filepath.Join(bin, "weighbeam"), []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	mqtt, pages := fmt.Sprint(port(t)), fmt.Sprint(port(t))
	r := &reader{t: t, dir: t.TempDir(), path: bin + ":" + os.Getenv("PATH"),
		ports: strings.NewReplacer("mosquitto_pub ", "mosquitto_pub -p "+mqtt+" ", "serve --household", "serve --config ports.toml --household", ":8640", ":"+pages,
			"weighbeam verify\n", "weighbeam verify --config ports.toml\n", "[door]", "[broker]\nlisten = \"127.0.0.1:"+mqtt+"\"\n[door]")}
	r.put("ports.toml", fmt.Sprintf("listen = \"127.0.0.1:%s\"\n[broker]\nlisten = \"127.0.0.1:%s\"\n", pages, mqtt))
	return r
}

func (r *reader) put(name, text string) {
	r.t.Helper()
	if err := os.WriteFile(filepath.Join(r.dir, name), []byte(text), 0o600); err != nil {
		r.t.Fatal(err)
	}
}

func (r *reader) command(text string) *exec.Cmd {
	cmd := exec.CommandContext(r.t.Context(), "bash", "-euo", "pipefail", "-c", r.ports.Replace(text))
	cmd.Dir, cmd.Env = r.dir, append(os.Environ(), "PATH="+r.path)
	return cmd
}

// does one block: runs it, keeps it running, or writes the file that it is.
func (r *reader) does(b block) {
	r.t.Helper()
	kind, name, _ := strings.Cut(b.kind, " ")
	switch {
	case b.kind == "sh":
		out, err := r.command(b.text).CombinedOutput()
		if err != nil {
			r.t.Errorf("%v\n%s\n%s", err, b.text, out)
		}
		r.output += string(out)
	case b.kind == "sh keeps-running":
		r.keeps(b.text)
	case (kind == "toml" || kind == "python") && name != "":
		r.put(name, r.ports.Replace(b.text))
		if python, err := exec.LookPath("python3"); kind == "python" && err == nil { // MicroPython is written as Python is
			if out, err := exec.CommandContext(r.t.Context(), python, "-m", "py_compile", filepath.Join(r.dir, name)).CombinedOutput(); err != nil {
				r.t.Errorf("%s: %v\n%s", name, err, out)
			}
		}
	case b.kind != "text":
		r.t.Errorf("a block of an unknown kind %q", b.kind)
	}
}

// keeps starts the program of a block and waits until its pages answer.
func (r *reader) keeps(text string) {
	r.t.Helper()
	args := strings.Fields(strings.TrimPrefix(r.ports.Replace(strings.TrimSpace(text)), "weighbeam "))
	cmd := exec.Command(programPath(r.t), args...)
	cmd.Dir, cmd.Env = r.dir, append(os.Environ(), "WEIGHBEAM_BE_THE_PROGRAM=1")
	if err := cmd.Start(); err != nil {
		r.t.Fatal(err)
	}
	r.t.Cleanup(func() {
		_ = cmd.Process.Kill() // it is ours
		_ = cmd.Wait()
	})
	eventually(r.t, text+" answers", func() (bool, string) {
		out, err := r.command("weighbeam healthy --config ports.toml").CombinedOutput()
		return err == nil, string(out)
	})
}

// Every command of the pages for people does what they say, in the order of the page,
// and what is only shown is marked so. Made-up cats never get into the reader's own store,
// which only the first evening makes.
func TestDocs_EveryCommandRuns(t *testing.T) {
	unraced(t)
	needed(t, "mosquitto_pub", "mosquitto-clients")
	says := map[string]string{
		"first-evening.md": "four kilos and a half", "small-computer.md": "people may sign in", "backup-and-move.md": "Restored", "judge.md": "breathing-rising raised",
	}
	pages, err := filepath.Glob(filepath.Join("..", "..", "docs", "*.md"))
	if err != nil || len(pages) < len(says) {
		t.Fatalf("%d pages, %v", len(pages), err)
	}
	for _, page := range pages {
		name := filepath.Base(page)
		t.Run(name, func(t *testing.T) {
			r := newReader(t)
			for _, b := range blocks(t, page) {
				r.does(b)
			}
			if want := says[name]; !strings.Contains(r.output, want) || want == "" && r.output != "" {
				t.Errorf("nothing says %q:\n%s", want, r.output)
			}
			if _, err := os.Stat(filepath.Join(r.dir, app.Defaults().Data)); (err == nil) != (name == "first-evening.md") {
				t.Errorf("the reader's own store: %v", err)
			}
		})
	}
}

// The page of the findings has a row for each sign of the program, with where its
// numbers come from, and no other.
func TestDocs_Findings_EverySignHasARow(t *testing.T) {
	source, err := os.ReadFile(filepath.Join("..", "..", "home", "finding.go"))
	if err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile(filepath.Join("..", "..", "docs", "findings.md"))
	if err != nil {
		t.Fatal(err)
	}
	var signs, rows []string
	for _, m := range regexp.MustCompile(`(?m)^\s*\w+\s+Sign\s*= "([a-z-]+)"`).FindAllStringSubmatch(string(source), -1) {
		signs = append(signs, m[1])
	}
	for _, m := range regexp.MustCompile("(?m)^\\| `([a-z-]+)` \\| .{10,} \\| .{10,} \\|$").FindAllStringSubmatch(string(page), -1) {
		rows = append(rows, m[1])
	}
	slices.Sort(signs)
	slices.Sort(rows)
	if len(signs) < 10 || !slices.Equal(signs, rows) {
		t.Errorf("signs %v\nrows  %v", signs, rows)
	}
}

// Links of the pages for people lead to files that are there.
func TestDocs_Links_LeadSomewhere(t *testing.T) {
	pages, err := filepath.Glob(filepath.Join("..", "..", "docs", "*.md"))
	if err != nil || len(pages) < 6 {
		t.Fatalf("%d pages, %v", len(pages), err)
	}
	for _, path := range pages {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`\]\(([^)#]+)\)`).FindAllStringSubmatch(string(text), -1) {
			if strings.Contains(m[1], "://") {
				continue
			}
			if _, err := os.Stat(filepath.Join(filepath.Dir(path), m[1])); err != nil {
				t.Errorf("%s: %v", filepath.Base(path), err)
			}
		}
	}
}
