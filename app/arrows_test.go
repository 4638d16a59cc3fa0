package app

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// allowed says what the packages under each folder may import of this module.
// Arrows go down: cmd, app, the rooms, home. Rooms do not import one another,
// but any may use the pure detect/stat. The longest matching folder decides.
var allowed = map[string][]string{
	"home":         {},
	"store":        {"home"},
	"store/mirror": {"home", "store/mirror/influxtest"},
	"ingest":       {"home", "detect/stat", "ingest"},
	"ingest/visit": {"home", "detect/stat", "ingest/visit"},
	"ingest/whose": {"home", "detect/stat", "ingest/whose"},
	"detect":       {"home", "detect/stat"},
	"detect/stat":  {},
	"detect/watch": {"home", "detect"},
	"notify":       {"home", "detect/stat", "notify"},
	"manual":       {"home", "detect/stat", "manual"},
	"dashboards":   {"home", "detect/stat", "dashboards"},
	"simulator":    {"home", "simulator"},
	"app":          {"home", "store", "ingest", "detect", "notify", "manual", "dashboards", "simulator", "app"},
	"cmd":          {"home", "store", "ingest", "detect", "notify", "manual", "dashboards", "simulator", "app", "cmd"},
}

// pure lists the folders whose code never asks the time, opens anything or
// starts a goroutine.
var pure = []string{"home", "detect", "detect/stat", "ingest/visit", "ingest/whose", "ingest/payload", "simulator", "app/replay"}

func TestImports_ArrowsGoDown(t *testing.T) {
	eachFile(t, func(folder, path string, file *ast.File) {
		rule, ok := allowed[owner(folder)]
		if !ok {
			t.Errorf("%s: no rule for this folder", path)
			return
		}
		for _, spec := range file.Imports {
			target, ours := strings.CutPrefix(strings.Trim(spec.Path.Value, `"`), "weighbeam/")
			if !ours {
				continue
			}
			if !slices.ContainsFunc(rule, func(r string) bool { return target == r || strings.HasPrefix(target, r+"/") }) {
				t.Errorf("%s imports %s, which is no arrow of the design", path, target)
			}
		}
	})
}

// owner is the longest folder with a rule that holds the given one.
func owner(folder string) string {
	for f := folder; f != "."; f = filepath.Dir(f) {
		if _, ok := allowed[f]; ok {
			return f
		}
	}
	return ""
}

func TestImports_PureStaysPure(t *testing.T) {
	forbidden := []string{"os", "net", "net/http", "os/exec", "sync", "log", "log/slog", "database/sql"}
	eachFile(t, func(folder, path string, file *ast.File) {
		if !slices.Contains(pure, folder) {
			return
		}
		for _, spec := range file.Imports {
			if name := strings.Trim(spec.Path.Value, `"`); slices.Contains(forbidden, name) {
				t.Errorf("%s imports %s: this folder is pure", path, name)
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.GoStmt:
				t.Errorf("%s starts a goroutine: this folder is pure", path)
			case *ast.SelectorExpr:
				if x, ok := n.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains([]string{"Now", "Since", "Until", "After", "Sleep", "NewTimer", "Tick"}, n.Sel.Name) {
					t.Errorf("%s asks for the time (%s): time is an input here", path, n.Sel.Name)
				}
			}
			return true
		})
	})
}

// The tests leave the race detector out for folders that are held to be pure, and
// for no other.
func TestMakefile_LeavesTheRaceDetectorOut_OnlyWherePure(t *testing.T) {
	text, err := os.ReadFile("../Makefile")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(text), "\nPURE ")
	line, _, _ := strings.Cut(rest, "\n")
	folders := strings.Fields(line)
	if !ok || len(folders) < 3 {
		t.Fatalf("no list PURE in the Makefile: %q", line)
	}
	for _, f := range folders[1:] { // after :=
		if !slices.Contains(pure, strings.TrimPrefix(f, "./")) {
			t.Errorf("%s is not held to be pure", f)
		}
	}
}

// eachFile parses every file of the module that is no test.
func eachFile(t *testing.T, f func(folder, path string, file *ast.File)) {
	t.Helper()
	n := 0
	err := filepath.WalkDir("..", func(path string, d os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && path != ".." && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata" || d.Name() == "node_modules") {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		folder, err := filepath.Rel("..", filepath.Dir(path))
		if err != nil {
			return err
		}
		n++
		f(filepath.ToSlash(folder), path, file)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if n < 50 {
		t.Fatalf("only %d files were looked at", n)
	}
}
