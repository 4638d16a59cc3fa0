package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"testing"
)

// unracedTests are the tests that start the program without the race detector, and where
// that is.
var unracedTests sync.Map

// programPath is what a test starts: the test binary, which can be the program.
func programPath(t testing.TB) string {
	if path, ok := unracedTests.Load(topOf(t)); ok {
		return path.(string)
	}
	return os.Args[0]
}

// topOf is the name of the test that t is a part of.
func topOf(t testing.TB) string {
	top, _, _ := strings.Cut(t.Name(), "/")
	return top
}

// raced reports whether this was built with the race detector.
func raced() bool {
	info, ok := debug.ReadBuildInfo()
	return ok && slices.Contains(info.Settings, debug.BuildSetting{Key: "-race", Value: "true"})
}

// unraced lets a test start the program without the race detector, which makes the months
// of calculation that some stories take fifteen times as long. It is for stories: other
// tests drive the same program with it through all that happens at the same time.
func unraced(t *testing.T) {
	t.Helper()
	if !raced() {
		return
	}
	path, err := plainProgram()
	if err != nil {
		t.Fatal(err)
	}
	unracedTests.Store(topOf(t), path)
}

// built is where the program without the race detector is, "" for nowhere.
var built string

// plainProgram builds the test binary once, without the race detector.
var plainProgram = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "weighbeam-unraced")
	if err != nil {
		return "", err
	}
	built = dir
	path := filepath.Join(dir, "weighbeam.test")
	if out, err := exec.Command("go", "test", "-race=false", "-c", "-o", path, ".").CombinedOutput(); err != nil {
		return "", fmt.Errorf("build without the race detector: %w\n%s", err, out)
	}
	return path, nil
})
