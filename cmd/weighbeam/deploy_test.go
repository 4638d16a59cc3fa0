package main

import (
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/compose-spec/compose-go/v2/loader"
	"github.com/compose-spec/compose-go/v2/types"
	paho "github.com/eclipse/paho.mqtt.golang"
	"github.com/goccy/go-yaml"

	"weighbeam/app"
)

// shipped reads a file of deploy/ with its container paths turned to dir.
func shipped(t *testing.T, name, dir string, replace ...string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "deploy", name))
	if err != nil {
		t.Fatal(err)
	}
	return strings.NewReplacer(append(replace, "/mosquitto/config/", dir+"/", "/mosquitto/data/", dir+"/data/",
		"/etc/weighbeam/", dir+"/", "/run/secrets/", dir+"/", "/data/", dir+"/store/")...).Replace(string(text))
}

// The shipped broker settings, access list, settings and household work
// together: a device writes its own topic, and nobody else's.
func TestDeploy_BrokerAndSettingsWorkTogether(t *testing.T) {
	needed := map[string]string{}
	for _, name := range []string{"mosquitto", "mosquitto_passwd"} {
		path, err := exec.LookPath(name)
		if err != nil {
			if os.Getenv("CI") != "" {
				t.Fatalf("%s is not installed: apt-get install mosquitto", name)
			}
			t.Skipf("SKIPPED: %s is not installed (apt-get install mosquitto); the shipped settings were not tried", name)
		}
		needed[name] = path
	}
	dir := t.TempDir()
	put := func(name, text string) string {
		t.Helper()
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	if err := os.Mkdir(filepath.Join(dir, "data"), 0o700); err != nil {
		t.Fatal(err)
	}
	mqtt := fmt.Sprintf("127.0.0.1:%d", port(t))
	conf := put("mosquitto.conf", shipped(t, "mosquitto.conf", dir, "listener 1883", fmt.Sprintf("listener %s 127.0.0.1\nuser root", mqtt[len("127.0.0.1:"):])))
	put("acl", shipped(t, "mosquitto.acl", dir))
	put("mqtt-password", "a secret\n")
	put("scrape-token", "a-token-to-scrape-with\n")
	hash, _ := once(t, "sixteen tabby paws\n", "password")
	put("keeper-hash", hash)
	put("mosquitto-passwords", "weighbeam:a secret\nbox-1:one\nbox-2:two\n")
	if out, err := exec.Command(needed["mosquitto_passwd"], "-U", filepath.Join(dir, "mosquitto-passwords")).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	broker := exec.Command(needed["mosquitto"], "-c", conf)
	if err := broker.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = broker.Process.Kill() // it is ours, and the test is over
		_ = broker.Wait()
	})
	eventually(t, "the broker answers", func() (bool, string) {
		c, err := net.Dial("tcp", mqtt)
		if err != nil {
			return false, err.Error()
		}
		return true, fmt.Sprint(c.Close())
	})

	engine := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) }))
	t.Cleanup(engine.Close)
	put("household.toml", shipped(t, "compose/household.toml", dir))
	settings := put("weighbeam.toml", shipped(t, "compose/weighbeam.toml", dir, "0.0.0.0:8640", "127.0.0.1:0", "mosquitto:1883", mqtt, "http://influxdb:8086", engine.URL))
	if _, err := app.ReadConfig(settings); err != nil {
		t.Fatal(err)
	}
	p := launch(t, "serve", "--config", settings)
	url := p.pages()
	eventually(t, "connected", func() (bool, string) {
		status, body := get(url + "/healthz")
		return status == 200, body
	})
	listening := shipped(t, "compose/weighbeam.toml", dir, "0.0.0.0:8640", strings.TrimPrefix(url, "http://"), "mosquitto:1883", mqtt, "http://influxdb:8086", engine.URL)
	if out, code := once(t, "", "healthy", "--config", put("listening.toml", listening)); code != 0 || !strings.Contains(out, "It is well") {
		t.Errorf("the health check of the container: %d, %s", code, out)
	}

	publish(t, mqtt, "box-2", "two", "home/box-1/load", `[{"n":"load","u":"kg","v":1}]`) // not its topic
	publish(t, mqtt, "box-1", "one", "home/box-1/load", `[{"n":"load","u":"kg","v":9.4}]`)
	eventually(t, "the reading is stored, and only that", func() (bool, string) {
		_, body := getAs(url+"/metrics", "a-token-to-scrape-with")
		return strings.Contains(body, `weighbeam_readings_stored_total{way="mqtt"} 1`) &&
			strings.Contains(body, `weighbeam_readings_received_total{way="mqtt"} 1`), body
	})
}

func publish(t *testing.T, addr, user, password, topic, payload string) {
	t.Helper()
	c := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID(user).SetUsername(user).SetPassword(password))
	if token := c.Connect(); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatalf("connect as %s: %v", user, token.Error())
	}
	defer c.Disconnect(250)
	if token := c.Publish(topic, 1, false, payload); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatalf("publish as %s: %v", user, token.Error())
	}
}

// composeFile is what the test reads of a compose file, after merges.
type composeFile struct {
	Services map[string]struct {
		Image, User string
		Build       any
		Ports       []string
		Volumes     []string
		Secrets     []string
		Networks    []string
		MemLimit    string   `yaml:"mem_limit"`
		ReadOnly    bool     `yaml:"read_only"`
		CapDrop     []string `yaml:"cap_drop"`
		SecurityOpt []string `yaml:"security_opt"`
		Healthcheck struct{ Test []string }
	}
	Volumes map[string]any
	Secrets map[string]struct{ File string }
}

// The compose file is taken by the loader of the Compose Specification, which looks at
// the schema and at what services name of one another. It pins every
// image and limits, locks down and watches every service; it mounts only what is there
// or what its own first lines make; only MQTT is open to the house.
func TestDeploy_ComposeFile(t *testing.T) {
	root := filepath.Join("..", "..")
	text, err := os.ReadFile(filepath.Join(root, "docker-compose.yml"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := loader.LoadWithContext(t.Context(), types.ConfigDetails{WorkingDir: root, ConfigFiles: []types.ConfigFile{{Filename: "docker-compose.yml", Content: text}}},
		func(o *loader.Options) { o.SetProjectName("home", true) }); err != nil {
		t.Errorf("by the Compose Specification: %v", err)
	}
	file := composed(t)
	if len(file.Services) != 5 {
		t.Errorf("%d services", len(file.Services))
	}
	for name, s := range file.Services {
		if _, tag, ok := strings.Cut(s.Image, ":"); s.Build == nil && (!ok || tag == "latest") {
			t.Errorf("%s: image %q is not pinned", name, s.Image)
		}
		if s.MemLimit == "" || len(s.Healthcheck.Test) == 0 || !s.ReadOnly || !slices.Contains(s.CapDrop, "ALL") || !slices.Contains(s.SecurityOpt, "no-new-privileges:true") {
			t.Errorf("%s has no memory limit, no health check, a root that can be written or rights that it does not need: %+v", name, s)
		}
		if s.User == "" && s.Build == nil || strings.HasPrefix(s.User, "0") {
			t.Errorf("%s runs as root", name)
		}
		for _, p := range s.Ports {
			if !strings.HasPrefix(p, "127.0.0.1:") && name != "mosquitto" {
				t.Errorf("%s is open to the house at %s", name, p)
			}
		}
		for _, secret := range s.Secrets {
			if made := file.Secrets[secret].File; !strings.Contains(string(text), "> "+made) {
				t.Errorf("%s: the first lines do not make the secret %s", name, secret)
			}
		}
		mounted(t, root, name, s.Volumes, file.Volumes)
	}
}

func mounted(t *testing.T, root, name string, volumes []string, named map[string]any) {
	t.Helper()
	for _, v := range volumes {
		from, _, _ := strings.Cut(v, ":")
		if !strings.HasPrefix(from, "./") {
			if _, ok := named[from]; !ok {
				t.Errorf("%s mounts the volume %s, which is not named below", name, from)
			}
		} else if _, err := os.Stat(filepath.Join(root, from)); err != nil {
			t.Errorf("%s mounts %s: %v", name, from, err)
		}
	}
}

// What the Debian package is made of is there, and its scripts can be read by sh; on a
// machine without systemd, as here in most cases, they do nothing and are content.
func TestDeploy_Package(t *testing.T) {
	root := filepath.Join("..", "..")
	text, err := os.ReadFile(filepath.Join(root, "deploy", "nfpm.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	var pkg struct {
		Contents []struct{ Src string }
		Scripts  map[string]string
	}
	if err := yaml.Unmarshal(text, &pkg); err != nil {
		t.Fatal(err)
	}
	for _, c := range pkg.Contents {
		if _, err := os.Stat(filepath.Join(root, c.Src)); err != nil && !strings.HasPrefix(c.Src, "${FILES}/") {
			t.Error(err)
		}
	}
	if len(pkg.Scripts) != 3 {
		t.Errorf("%d scripts", len(pkg.Scripts))
	}
	for when, script := range pkg.Scripts {
		run := []string{filepath.Join(root, script), "configure"}
		if _, err := os.Stat("/run/systemd/system"); err == nil {
			run = append([]string{"-n"}, run...) // this machine's services are not the test's
		}
		if out, err := exec.CommandContext(t.Context(), "/bin/sh", run...).CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("%s: %v: %s", when, err, out)
		}
	}
}
