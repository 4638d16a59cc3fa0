package main

import (
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"weighbeam/app"
)

// containerfile is what a container file says of its last stage.
type containerfile struct {
	user, entry string
	env         []string
}

func readContainerfile(t *testing.T, name string) (c containerfile) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "deploy", name))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(strings.ReplaceAll(string(text), "\\\n", " ")) {
		word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
		switch word {
		case "FROM":
			if image := strings.Fields(rest)[0]; image != "scratch" && (!strings.Contains(image, ":") || strings.HasSuffix(image, ":latest")) {
				t.Errorf("%s: image %s is not pinned", name, image)
			}
			c = containerfile{}
		case "USER":
			c.user = rest
		case "ENTRYPOINT":
			c.entry = rest
		case "ENV":
			c.env = append(c.env, strings.Fields(rest)...)
		case "ADD":
			t.Errorf("%s: ADD fetches and unpacks; COPY does not: %s", name, line)
		}
	}
	return c
}

// Each container file builds from pinned images, runs as nobody in particular, and
// starts the program itself: a shell between would keep its signals.
func TestDeploy_Containerfiles(t *testing.T) {
	for name, entry := range map[string]string{"Containerfile": `["/weighbeam"]`, "influxdb.Containerfile": `["influxd"]`} {
		c := readContainerfile(t, name)
		if c.user == "" || strings.HasPrefix(c.user, "0") || strings.HasPrefix(c.user, "root") {
			t.Errorf("%s: the last stage runs as %q", name, c.user)
		}
		if c.entry != entry {
			t.Errorf("%s starts %s", name, c.entry)
		}
	}
}

// What the first lines of the compose file make is no part of what images are built from.
func TestDeploy_Images_HoldNoSecrets(t *testing.T) {
	out, err := os.ReadFile(filepath.Join("..", "..", ".dockerignore"))
	if err != nil {
		t.Fatal(err)
	}
	for name, s := range composed(t).Secrets {
		if folder := filepath.ToSlash(filepath.Dir(s.File)); !strings.Contains("\n"+string(out), "\n"+folder+"\n") {
			t.Errorf("%s lies in %s, which .dockerignore does not name", name, folder)
		}
	}
}

// The engine of the compose file, started as its container file says, has no database
// until it was asked whether it is well. From then on it takes what the shipped
// settings mirror to it.
func TestDeploy_Engine_IsReadyOnceItIsWell(t *testing.T) {
	engine := filepath.Join("..", "..", "bin", "influxd")
	if _, err := os.Stat(engine); err != nil {
		needed(t, "influxd", "influxdb, or run make needs")
	}
	dir, own := t.TempDir(), fmt.Sprintf("http://127.0.0.1:%d", port(t))
	cmd := exec.Command(engine)
	for _, set := range readContainerfile(t, "influxdb.Containerfile").env {
		if strings.Contains(set, "_FLUX_") {
			continue // takes seconds to prepare, and is asked nothing here
		}
		cmd.Env = append(cmd.Env, strings.Replace(set, "=/data", "="+dir, 1))
	}
	cmd.Env = append(cmd.Env, "INFLUXDB_BIND_ADDRESS=127.0.0.1:0", "INFLUXDB_HTTP_BIND_ADDRESS="+strings.TrimPrefix(own, "http://"))
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill() // it is ours
		_ = cmd.Wait()
	})
	cfg, err := app.ReadConfig(write(t, "weighbeam.toml", shipped(t, "compose/weighbeam.toml", t.TempDir())))
	if err != nil {
		t.Fatal(err)
	}
	mirrors := func() string {
		return sent(own+"/api/v2/write?bucket="+cfg.Influx.Bucket, "text/plain", "reading value=1")
	}
	eventually(t, "the engine answers", func() (bool, string) {
		status := mirrors()
		return strings.HasPrefix(status, "404"), status
	})
	check := composed(t).Services["influxdb"].Healthcheck.Test // CMD wget ... --post-data WHAT WHERE
	where := strings.Replace(check[len(check)-1], "http://127.0.0.1:8086", own, 1)
	if status := sent(where, "application/x-www-form-urlencoded", check[len(check)-2]); !strings.HasPrefix(status, "200") {
		t.Fatalf("the health check is answered with %s", status)
	}
	eventually(t, "the mirror can write", func() (bool, string) {
		status := mirrors()
		return strings.HasPrefix(status, "204"), status
	})
}

// sent sends a body and returns the status of the answer.
func sent(url, kind, body string) string {
	resp, err := http.Post(url, kind, strings.NewReader(body))
	if err != nil {
		return err.Error()
	}
	resp.Body.Close()
	return resp.Status
}

// composed reads the compose file, after merges.
func composed(t *testing.T) (file composeFile) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "docker-compose.yml"))
	if err == nil {
		err = yaml.Unmarshal(text, &file)
	}
	if err != nil {
		t.Fatal(err)
	}
	return file
}
