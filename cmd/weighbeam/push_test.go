package main

import (
	"encoding/json"
	"encoding/pem"
	"fmt"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"

	"weighbeam/home"
	"weighbeam/notify/push/pushtest"
)

// asks hands a browser's subscription in, as the script of the page does.
func asks(t *testing.T, pages string, s home.Subscription) {
	t.Helper()
	body, err := json.Marshal(map[string]any{"channel": s.Channel, "endpoint": s.Endpoint, "keys": map[string]string{"p256dh": s.Key, "auth": s.Auth}})
	if err != nil {
		t.Fatal(err)
	}
	resp, err := http.Post(pages+"/notices/push", "application/json", strings.NewReader(string(body)))
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusNoContent {
		t.Fatalf("asking was answered with %s", resp.Status)
	}
}

var pushKey = regexp.MustCompile(`data-key="([^"]+)"`)

// A house whose settings name no channel: a browser asks on the page to be told,
// and is, also after a kill, under the same key; one that is gone is forgotten,
// and then nobody is told.
func TestServe_TellsABrowser(t *testing.T) {
	var gone atomic.Bool
	service := pushtest.Serve(t, func(w http.ResponseWriter, r *http.Request) {
		if gone.Load() {
			w.WriteHeader(http.StatusGone)
			return
		}
		w.WriteHeader(http.StatusCreated)
	})
	t.Setenv("SSL_CERT_FILE", write(t, "ca.pem", string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: service.Certificate().Raw}))))
	data := filepath.Join(t.TempDir(), "house.db")
	household := write(t, "household.toml", "[[cat]]\nid = \"juniper\"\nname = \"Juniper\"\n")
	config := write(t, "weighbeam.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\nhousehold = %q\npush_services = [%q]\n[broker]\nlisten = \"127.0.0.1:%d\"\n",
		data, port(t), household, service.Host(), port(t)))
	first := launch(t, "serve", "--config", config)
	pages := first.pages()
	_, page := get(pages + "/notices")
	key := pushKey.FindStringSubmatch(page)
	if key == nil || !strings.Contains(page, "Nobody") {
		t.Fatalf("the page:\n%s", page)
	}
	b := pushtest.NewBrowser(t)
	asks(t, pages, b.Subscription(service.URL+"/to/1", "browser"))
	if code, said := commanded(t, "try", "browser", "--config", config); code != 0 {
		t.Errorf("try ended with %d:\n%s", code, said)
	}
	first.kill()
	second := launch(t, "serve", "--config", config)
	pages = second.pages()
	redFlag(t, pages)
	eventually(t, "the browser is told", func() (bool, string) { return len(service.Caught()) >= 2, second.output() })
	for i, want := range []string{"this channel works", "Juniper: red flag seen. Go to a vet now."} {
		took := service.Caught()[i]
		text, err := b.Open([]byte(took.Body))
		if err != nil || !strings.Contains(text, want) {
			t.Errorf("message %d: %q, %v", i, text, err)
		}
		if claims, err := pushtest.Claims(took.Header.Get("Authorization"), key[1]); err != nil || claims["aud"] != service.URL {
			t.Errorf("message %d claims %v, %v", i, claims, err)
		}
	}
	gone.Store(true)
	if code, said := commanded(t, "try", "browser", "--config", config); code != 1 || !strings.Contains(said, "no longer asks") {
		t.Errorf("try ended with %d:\n%s", code, said)
	}
	resp, err := http.PostForm(pages+"/notices/try", map[string][]string{"channel": {"browser"}})
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if _, page := get(pages + "/notices"); !strings.Contains(page, "are told: 0.") || !strings.Contains(page, "Nobody") || strings.Contains(page, service.Host()) {
		t.Errorf("the page after it is gone:\n%s", page)
	}
}
