package app

import (
	"encoding/json"
	"fmt"
	"go/ast"
	"io"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// Every line of the threat model, and of what is promised, names tests, and all of them
// exist.
func TestThreats_EachNamesTestsThatExist(t *testing.T) { namesTests(t, "threats.md", 20) }

func TestPromises_EachNamesTestsThatExist(t *testing.T) { namesTests(t, "promises.md", 30) }

func namesTests(t *testing.T, page string, least int) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "docs", page))
	if err != nil {
		t.Fatal(err)
	}
	have := tests(t)
	name, rows := regexp.MustCompile("`(Test\\w+)`"), -2 // its head
	for line := range strings.Lines(string(text)) {
		cells := strings.Split(strings.TrimSpace(line), "|")
		if len(cells) < 4 {
			continue
		}
		if rows++; rows <= 0 {
			continue
		}
		named := name.FindAllStringSubmatch(cells[len(cells)-2], -1)
		if len(named) == 0 {
			t.Errorf("no test: %s", cells[1])
		}
		for _, m := range named {
			if !have[m[1]] {
				t.Errorf("%s does not exist: %s", m[1], cells[1])
			}
		}
	}
	if rows < least {
		t.Errorf("only %d lines were found", rows)
	}
}

// tests are the names of all tests of the module.
func tests(t *testing.T) map[string]bool {
	t.Helper()
	have, declared := map[string]bool{}, regexp.MustCompile(`(?m)^func (Test\w+)\(`)
	err := filepath.WalkDir("..", func(path string, d os.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range declared.FindAllStringSubmatch(string(text), -1) {
			have[m[1]] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return have
}

// Nothing that comes in is unpacked, and only the photos of a home check are decoded,
// so there is no other bomb of that kind. Whoever adds such a thing bounds it first and
// changes this test.
func TestImports_NothingIsUnpacked(t *testing.T) {
	const bounded = "../manual/photo.go" // see TestKeepable_Bomb_IsRefused
	readers := map[string]bool{"image.Decode": true, "imaging.Decode": true, "webp.Decode": true, "png.Decode": true, "jpeg.Decode": true, "gif.Decode": true,
		"gzip.NewReader": true, "zlib.NewReader": true, "flate.NewReader": true, "zip.NewReader": true, "zip.OpenReader": true, "tar.NewReader": true}
	eachFile(t, func(_, path string, file *ast.File) {
		ast.Inspect(file, func(n ast.Node) bool {
			if s, ok := n.(*ast.SelectorExpr); ok {
				if x, ok := s.X.(*ast.Ident); ok && readers[x.Name+"."+s.Sel.Name] && path != bounded {
					t.Errorf("%s calls %s.%s", path, x.Name, s.Sel.Name)
				}
			}
			return true
		})
	})
}

// raw fetches an address as it is written, without cleaning its path.
func raw(t *testing.T, base, path string) (int, http.Header, string) {
	t.Helper()
	u, err := url.Parse(base)
	if err != nil {
		t.Fatal(err)
	}
	u.Opaque = "//" + u.Host + path
	req := (&http.Request{Method: http.MethodGet, URL: u, Host: u.Host, Header: http.Header{}}).WithContext(t.Context())
	resp, err := http.DefaultTransport.RoundTrip(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, resp.Header, string(body)
}

// A house in which every word is an attack shows it as words; addresses with SQL and
// with ways up reach nothing, and the store is whole afterwards.
func TestApp_Strangers_ReachNothing(t *testing.T) {
	const evil = `<script>alert(1)</script>"'><img src=x onerror=alert(1)>`
	h := home.Household{Cats: []home.Cat{{ID: "juniper", Name: evil}}, Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox, Topic: "home/1"}}}
	l := startLive(t, h, noon)
	if token := l.device.Publish("home/1", 1, false, evil); !token.WaitTimeout(20*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	if token := l.device.Publish("home/"+evil, 1, false, "4.5"); !token.WaitTimeout(20*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	check := home.HomeCheck{ID: "c", Cat: "juniper", Time: noon, Note: evil, By: evil,
		Readings: []home.Reading{{Source: home.Hand, Quantity: home.Weight, Time: noon, Value: 4.5, Cat: "juniper", Clock: home.ByHand, Note: evil}}}
	if _, err := l.Store().Append(t.Context(), home.Batch{Checks: []home.HomeCheck{check}}); err != nil {
		t.Fatal(err)
	}
	shown := 0
	for _, path := range []string{"/", "/cats/juniper", "/cats/juniper/sheet", "/check/juniper", "/set-aside", "/sources/box-1", "/notices"} {
		status, header, body := raw(t, l.PagesURL(), path)
		if status != 200 || strings.Contains(body, "<script>alert") || strings.Contains(body, "<img src=x") {
			t.Errorf("%s: %d, or markup that a stranger wrote:\n%s", path, status, body)
		}
		if policy := header.Get("Content-Security-Policy"); !strings.Contains(policy, "default-src 'none'") || strings.Contains(policy, "unsafe") {
			t.Errorf("%s has the policy %q", path, policy)
		}
		shown += strings.Count(body, "&lt;script&gt;")
	}
	if shown < 5 {
		t.Errorf("the words were shown %d times only: nothing is proved", shown)
	}
	for _, path := range []string{
		"/cats/juniper'%20OR%20'1'='1", "/cats/x';DROP%20TABLE%20reading;--", "/findings/x'%20UNION%20SELECT%20body%20FROM%20household--",
		"/sources/box-1'--", "/cats/juniper/weight.csv?period='%3BDROP%20TABLE%20visit%3B--",
		"/../../etc/passwd", "/..%2f..%2fetc%2fpasswd", "/cats/..%2f..%2f..%2fetc%2fpasswd", "/cats/%2e%2e/%2e%2e/house.db",
		"/style.css/..%2f..%2fhouse.db", "/%5c..%5chouse.db", "/cats/juniper%00.html",
	} {
		if status, _, body := raw(t, l.PagesURL(), path); status == 500 || strings.Contains(body, "root:") || strings.Contains(body, "SQLite format") || strings.Contains(body, `"Cats"`) {
			t.Errorf("%s: %d\n%s", path, status, body)
		}
	}
	if err := l.Store().Check(t.Context()); err != nil {
		t.Error(err)
	}
	if checks, err := l.Store().Readings(t.Context(), home.Hand, home.Weight, time.Time{}, time.Time{}); err != nil || len(checks) != 1 {
		t.Errorf("%d weighings are left, %v", len(checks), err)
	}
}

// The link of a notice takes one answer. Sent again it changes nothing and says so.
func TestApp_AnswerLink_WorksOnce(t *testing.T) {
	l := startLive(t, home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}}, noon)
	f := home.Finding{Cat: "juniper", Sign: home.WeightFalling, Urgency: home.Book, Raised: noon, Text: "Weight is falling."}
	if err := l.Store().Decide(t.Context(), home.Decision{Cursor: home.Cursor{Name: "test"}, Turns: []home.Transition{{Turn: home.Raised, At: noon, Finding: f}}}); err != nil {
		t.Fatal(err)
	}
	link := l.PagesURL() + l.answers.link(f.ID(), "phone", noon)
	answer := func(kind string) int {
		t.Helper()
		resp, err := http.PostForm(link, url.Values{"kind": {kind}, "note": {"seen"}})
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		return resp.StatusCode
	}
	if got := answer("seen-to"); got >= 400 {
		t.Fatalf("the first answer: %d", got)
	}
	answer("explained")
	said, err := l.Store().Reactions(t.Context(), f.ID())
	if err != nil || len(said) != 1 || said[0].Kind != home.SeenTo {
		t.Errorf("after two answers by one link: %+v, %v", said, err)
	}
	if _, _, body := raw(t, l.PagesURL(), strings.TrimPrefix(link, l.PagesURL())+"x"); strings.Contains(body, "Weight is falling") {
		t.Error("a changed link shows the finding")
	}
}

// person is a person for the settings, whom nobody need sign in as.
func person(t *testing.T) string {
	t.Helper()
	hash := "$argon2id$v=19$m=19456,t=2,p=1$c2FsdHNhbHRzYWx0c2FsdA$MDEyMzQ1Njc4OTAxMjM0NTY3ODkwMTIzNDU2Nzg5MDE"
	path := filepath.Join(t.TempDir(), "hash")
	if err := os.WriteFile(path, []byte(hash), 0o600); err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("[[door.person]]\nname = \"ada\"\npassword_file = %q\n", path)
}

// Behind a password strangers learn whether the program is well, and no more.
func TestApp_Health_TellsStrangersLittle(t *testing.T) {
	for settings, want := range map[string]int{"": 2, person(t): 1} {
		l := startLiveWith(t, home.Household{}, noon, settings)
		_, _, body := raw(t, l.PagesURL(), "/healthz")
		var answer map[string]any
		if err := json.Unmarshal([]byte(body), &answer); err != nil || len(answer) != want || answer["well"] == nil {
			t.Errorf("with %q: %s, %v", settings, body, err)
		}
	}
}

// A proxy on this machine that asks for the pages by their own address, and says
// nothing of passing something on, opens no way to post without a token.
func TestApp_BareProxy_PassesNobodyOff(t *testing.T) {
	l := startLiveWith(t, home.Household{}, noon, "[door]\nproxies = [\"127.0.0.1\"]\n"+person(t))
	up, err := url.Parse(l.PagesURL())
	if err != nil {
		t.Fatal(err)
	}
	proxy := httptest.NewServer(&httputil.ReverseProxy{Rewrite: func(p *httputil.ProxyRequest) { p.SetURL(up) }})
	t.Cleanup(proxy.Close)
	resp, err := http.Post(proxy.URL+"/api/v1/readings", "application/senml+json", strings.NewReader(`[{"n":"box-1:weight","u":"kg","v":2}]`))
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusUnauthorized {
		t.Errorf("readings: %s", resp.Status)
	}
	if _, err := PostCheck(t.Context(), proxy.URL, "", []byte(`{"cat":"plum","note":"x"}`)); err == nil || !strings.Contains(home.Hint(err), "--token-file") {
		t.Errorf("a home check: %v, %s", err, home.Hint(err))
	}
}
