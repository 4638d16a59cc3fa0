package app

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// post sends SenML as a device with that token does.
func (l *liveHouse) post(token, body string) int {
	l.t.Helper()
	req, err := http.NewRequestWithContext(l.t.Context(), http.MethodPost, l.PagesURL()+"/api/v1/readings", strings.NewReader(body))
	if err != nil {
		l.t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/senml+json")
	req.Header.Set("Authorization", "Bearer "+token)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		l.t.Fatal(err)
	}
	resp.Body.Close()
	return resp.StatusCode
}

// A device that cannot speak MQTT posts with its token; the answer comes after
// the commit. Without the token, nothing is taken.
func TestApp_PostReadings(t *testing.T) {
	token := filepath.Join(t.TempDir(), "token")
	if err := os.WriteFile(token, []byte("a-long-enough-secret-token\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	l := startLiveWith(t, home.Household{Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}}}, noon,
		"[[device]]\nname = \"kitchen\"\ntoken_file = \""+token+"\"\nsources = [\"box-1\"]")
	const body = `[{"bn":"box-1:","n":"weight","u":"kg","v":4.5,"t":1741003200}]`
	if got := l.post("wrong", body); got != http.StatusUnauthorized {
		t.Errorf("a wrong token: %d", got)
	}
	if got := l.post("a-long-enough-secret-token", body); got/100 != 2 {
		t.Fatalf("the right token: %d", got)
	}
	stored, err := l.Store().Readings(t.Context(), "box-1", home.Weight, time.Time{}, time.Time{})
	if err != nil || len(stored) != 1 || stored[0].Value != 4.5 {
		t.Errorf("stored %+v, %v", stored, err)
	}
}

// What a device may not send is set aside, and stays so when somebody tries it again
// on the page, or on the command line of a stopped program.
func TestApp_Retry_KeepsToTheRightsOfTheDevice(t *testing.T) {
	l := apiHouse(t)
	for _, body := range []string{
		`[{"n":"box-2:weight","u":"kg","v":1.9,"t":1741003200}]`,
		`[{"n":"hand:cat","vs":"plum"},{"n":"hand:weight","u":"kg","v":1.9,"t":1741003200}]`,
	} {
		if got := l.post("a-long-enough-token-box", body); got != http.StatusUnprocessableEntity {
			t.Fatalf("%s: %d", body, got)
		}
	}
	for name, try := range map[string]func() (home.Retry, error){
		"on the page": func() (home.Retry, error) { return l.Retry(t.Context(), "#") },
		"stopped":     func() (home.Retry, error) { return RetryStopped(t.Context(), l.Store(), l.cfg, "#") },
		"stopped, and the settings are not named": func() (home.Retry, error) {
			return RetryStopped(t.Context(), l.Store(), Config{}, "#")
		},
	} {
		if got, err := try(); err != nil || got.Tried != 2 || got.Read != 0 {
			t.Errorf("%s: %+v, %v", name, got, err)
		}
	}
	for _, source := range []string{"box-2", "hand"} {
		if stored, err := l.Store().Readings(t.Context(), source, home.Weight, time.Time{}, time.Time{}); err != nil || len(stored) > 0 {
			t.Errorf("%s: %+v, %v", source, stored, err)
		}
	}
}
