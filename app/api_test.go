package app

import (
	"bytes"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"weighbeam/home"
)

// A device that cannot speak MQTT posts with its token; the answer comes after
// the commit. Without the token, nothing is taken.
func TestApp_PostReadings(t *testing.T) {
	token := filepath.Join(t.TempDir(), "token")
	if err := os.WriteFile(token, []byte("a-long-enough-secret-token\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	l := startLiveWith(t, home.Household{Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}}}, noon,
		"[[device]]\nname = \"kitchen\"\ntoken_file = \""+token+"\"\nsources = [\"box-1\"]")
	post := func(authorization string) int {
		t.Helper()
		req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, l.PagesURL()+"/api/v1/readings",
			bytes.NewBufferString(`[{"bn":"box-1:","n":"weight","u":"kg","v":4.5,"t":1741003200}]`))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/senml+json")
		req.Header.Set("Authorization", authorization)
		resp, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		return resp.StatusCode
	}
	if got := post("Bearer wrong"); got != http.StatusUnauthorized {
		t.Errorf("a wrong token: %d", got)
	}
	if got := post("Bearer a-long-enough-secret-token"); got/100 != 2 {
		t.Fatalf("the right token: %d", got)
	}
	stored, err := l.Store().Readings(t.Context(), "box-1", home.Weight, time.Time{}, time.Time{})
	if err != nil || len(stored) != 1 || stored[0].Value != 4.5 {
		t.Errorf("stored %+v, %v", stored, err)
	}
}
