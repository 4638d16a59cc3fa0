package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/goccy/go-yaml"

	"weighbeam/store/mirror/influxtest"
)

// board is what the test reads of a dashboard.
type board struct {
	UID, Title string
	Panels     []struct {
		ID          int
		Title, Type string
		GridPos     struct{ X, Y, W, H int }
		Targets     []target
	}
	Templating struct {
		List []struct {
			Name, Query string
			Datasource  source
		}
	}
}

type source struct{ Type, UID string }

type target struct {
	Datasource  source
	Query, Expr string
}

// boards reads every dashboard that is shipped.
func boards(t *testing.T) map[string]board {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join("..", "..", "dashboards", "grafana", "*.json"))
	if err != nil || len(paths) != 4 {
		t.Fatalf("%d dashboards, %v", len(paths), err)
	}
	all := map[string]board{}
	for _, path := range paths {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		var b board
		if err := json.Unmarshal(text, &b); err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		all[strings.TrimSuffix(filepath.Base(path), ".json")] = b
	}
	return all
}

// Each dashboard asks only engines that are provisioned, uses only variables that it
// has, and no two of its panels lie on one another.
func TestGrafana_Files(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "dashboards", "grafana", "provisioning", "datasources", "weighbeam.yml"))
	if err != nil {
		t.Fatal(err)
	}
	var provisioned struct{ Datasources []source }
	if err := yaml.Unmarshal(text, &provisioned); err != nil {
		t.Fatal(err)
	}
	used := regexp.MustCompile(`\$\{(\w+)\}`)
	for name, b := range boards(t) {
		known := []string{}
		for _, v := range b.Templating.List {
			known = append(known, v.Name)
		}
		taken := map[[2]int]int{}
		for _, p := range b.Panels {
			if p.Title == "" || len(p.Targets) == 0 {
				t.Errorf("%s: panel %d has no title or asks nothing", name, p.ID)
			}
			for x := p.GridPos.X; x < p.GridPos.X+p.GridPos.W; x++ {
				for y := p.GridPos.Y; y < p.GridPos.Y+p.GridPos.H; y++ {
					if other := taken[[2]int{x, y}]; other != 0 || x >= 24 {
						t.Fatalf("%s: panel %d lies on %d or beside the page", name, p.ID, other)
					}
					taken[[2]int{x, y}] = p.ID
				}
			}
			for _, q := range p.Targets {
				if !slices.Contains(provisioned.Datasources, q.Datasource) {
					t.Errorf("%s, %s: asks %v, which is not provisioned", name, p.Title, q.Datasource)
				}
				for _, m := range used.FindAllStringSubmatch(q.Query+q.Expr, -1) {
					if !slices.Contains(known, m[1]) {
						t.Errorf("%s, %s: the variable %s is not there", name, p.Title, m[1])
					}
				}
			}
		}
	}
}

// needed is the path of a program of NEEDS, or ends the test as its absence asks for.
func needed(t *testing.T, name, pkg string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is not installed: apt-get install %s", name, pkg)
		}
		t.Skipf("SKIPPED: %s is not installed (apt-get install %s)", name, pkg)
	}
	return path
}

// Rules are well formed, and what they tell, and do not tell, is as rules_test.yml says.
func TestPrometheus_Rules(t *testing.T) {
	promtool := needed(t, "promtool", "prometheus")
	dir := filepath.Join("..", "..", "deploy", "prometheus")
	for _, args := range [][]string{{"check", "rules", "rules.yml"}, {"test", "rules", "rules_test.yml"}, {"check", "config", "--syntax-only", "prometheus.yml"}} {
		cmd := exec.CommandContext(t.Context(), promtool, args...)
		cmd.Dir = dir
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("promtool %v: %v\n%s", args, err, out)
		}
	}
}

// prometheus runs the shipped configuration against a program, with its paths and
// addresses turned, and asks more often.
func prometheus(t *testing.T, target, token string) (url string) {
	t.Helper()
	program, dir := needed(t, "prometheus", "prometheus"), t.TempDir()
	put := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	put("scrape-token", token)
	put("rules.yml", shipped(t, "prometheus/rules.yml", dir))
	conf := put("prometheus.yml", shipped(t, "prometheus/prometheus.yml", dir, "weighbeam:8640", strings.TrimPrefix(target, "http://"), "15s", "1s\n  evaluation_interval: 1s"))
	addr := fmt.Sprintf("127.0.0.1:%d", port(t))
	cmd := exec.Command(program, "--config.file="+conf, "--storage.tsdb.path="+filepath.Join(dir, "data"), "--web.listen-address="+addr)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill() // it is ours
		_ = cmd.Wait()
	})
	return "http://" + addr
}

// samples is how many series an expression finds now.
func samples(base, expr string) (int, string) {
	_, body := get(base + "/api/v1/query?query=" + url.QueryEscape(expr))
	var answer struct {
		Data struct{ Result []any }
	}
	if err := json.Unmarshal([]byte(body), &answer); err != nil {
		return 0, body
	}
	return len(answer.Data.Result), body
}

// Every query of every dashboard finds data in a house of five months, in a real
// InfluxDB that the program mirrors into and in a real Prometheus with the shipped
// configuration and rules.
func TestGrafana_EveryQuery_FindsData(t *testing.T) {
	t.Parallel()
	unraced(t)
	engine := influxtest.Start(t)
	dir := t.TempDir()
	if _, code := once(t, "", "simulate", filepath.Join(dir, "sim"), "--days", "150", "--seed", "3"); code != 0 {
		t.Fatal("simulate failed")
	}
	token, broker := "a-token-to-scrape-with", port(t)
	hash, _ := once(t, "sixteen tabby paws\n", "password")
	settings := write(t, "weighbeam.toml", fmt.Sprintf(`data = %q
listen = "127.0.0.1:%d"
household = %q
[broker]
listen = "127.0.0.1:%d"
[influx]
url = %q
token_file = %q
bucket = %q
site = "mill-lane"
[door]
scrape_token_file = %q
[[door.person]]
name = "ada"
password_file = %q
[[command]]
name = "bell"
run = ["/bin/true"]
`, filepath.Join(dir, "house.db"), port(t), filepath.Join(dir, "sim", "household.toml"), broker, engine.URL,
		write(t, "influx", influxtest.Token), influxtest.Bucket, write(t, "scrape", token), write(t, "hash", hash)))
	if out, code := once(t, "", "import", "--config", settings, filepath.Join(dir, "sim", "readings.csv")); code != 0 {
		t.Fatal(out)
	}
	pages := launch(t, "serve", "--config", settings).pages()
	metrics := prometheus(t, pages, token)
	now := time.Now().Unix()
	for _, payload := range []string{`[{"n":"weight","u":"kg","v":4.2,"t":%d}]`, `[{"n":"weight","u":"kg","v":4.2,"t":%d}]`, "nonsense"} { // stored, duplicate, set aside
		publish(t, fmt.Sprintf("127.0.0.1:%d", broker), "box-hall", "", "home/litter/hall", strings.ReplaceAll(payload, "%d", fmt.Sprint(now)))
	}
	eventually(t, "everything is mirrored", func() (bool, string) {
		_, body := getAs(pages+"/metrics", token)
		return strings.Contains(body, `weighbeam_stage_behind{stage="mirror"} 0`) && strings.Contains(body, `weighbeam_stage_behind{stage="watch"} 0`) &&
			!strings.Contains(body, "weighbeam_mirror_level_timestamp_seconds 0\n"), body
	})
	simulated := time.Date(2025, 1, 6, 0, 0, 0, 0, time.UTC)
	filled := strings.NewReplacer("v.timeRangeStart", simulated.Format(time.RFC3339), "v.timeRangeStop", time.Now().Format(time.RFC3339),
		"v.defaultBucket", fmt.Sprintf("%q", influxtest.Bucket), "v.windowPeriod", "1d", "${site}", "mill-lane", "${cat}", "bramble", "${scale}", "box-hall")
	asked := 0
	check := func(what string, q target) {
		t.Helper()
		asked++
		if q.Datasource.Type == "influxdb" {
			eventually(t, what+" finds data", func() (bool, string) { // trends follow what was found
				values, err := engine.Values(filled.Replace(q.Query))
				return err == nil && len(values) > 0, fmt.Sprintf("%v, from\n%s", err, filled.Replace(q.Query))
			})
			return
		}
		eventually(t, what+" finds data", func() (bool, string) {
			n, body := samples(metrics, strings.ReplaceAll(filled.Replace(q.Expr), "[5m]", "[30s]"))
			return n > 0, q.Expr + "\n" + body
		})
	}
	for name, b := range boards(t) {
		for _, v := range b.Templating.List {
			check(name+", variable "+v.Name, target{Datasource: v.Datasource, Query: v.Query})
		}
		for _, p := range b.Panels {
			for _, q := range p.Targets {
				check(name+", "+p.Title, q)
			}
		}
	}
	if asked < 40 {
		t.Errorf("only %d queries were asked", asked)
	}
	if status, _ := get(metrics + "/-/ready"); status != http.StatusOK {
		t.Errorf("prometheus is not ready: %d", status)
	}
}
