package door

import (
	"html/template"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"
)

// A keeper signs in, does everything, and signs out; the same cookie is worth
// nothing afterwards.
func TestDoor_Keeper_SignsInAndOut(t *testing.T) {
	e := serve(t, config())
	resp, _ := e.login("ada", "sixteen tabby paws")
	if resp.StatusCode != 303 || resp.Header.Get("Location") != "/cats/juniper" {
		t.Fatalf("got %d to %s", resp.StatusCode, resp.Header.Get("Location"))
	}
	c := resp.Cookies()[0]
	if !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Secure || c.MaxAge <= 0 {
		t.Errorf("the cookie is %s", c)
	}
	if _, body := e.ask("GET", "/", nil); body != "through: ada" {
		t.Errorf("the page says %q", body)
	}
	if e.status("POST", "/check") != 200 || e.status("GET", "/metrics") != 200 || e.status("GET", "/door") != 200 {
		t.Error("a keeper is kept out")
	}
	if kept := e.kept.tokens(); len(kept) != 1 || kept[0] == c.Value {
		t.Error("the store knows the token itself")
	}
	if got := e.status("POST", "/logout"); got != 303 {
		t.Errorf("signing out: %d", got)
	}
	if got := e.status("GET", "/", "Cookie", c.Name+"="+c.Value); got != 303 {
		t.Errorf("the old cookie still opens the door: %d", got)
	}
}

// A viewer sees every page and changes nothing.
func TestDoor_Viewer_ChangesNothing(t *testing.T) {
	e := serve(t, config())
	e.login("bo", "only looking in")
	if got := e.status("GET", "/cats/juniper"); got != 200 {
		t.Errorf("looking: %d", got)
	}
	for _, method := range []string{"POST", "PUT", "PATCH", "DELETE"} {
		if got := e.status(method, "/check"); got != 403 {
			t.Errorf("%s: %d", method, got)
		}
	}
	if got := e.status("GET", "/metrics"); got != 401 && got != 403 {
		t.Errorf("metrics: %d", got)
	}
	if got := e.status("POST", "/logout"); got != 303 {
		t.Errorf("signing out: %d", got)
	}
}

// A cookie that somebody planted in the browser is not the one of the session
// that the person then opens.
func TestDoor_Login_MakesANewToken(t *testing.T) {
	e := serve(t, config())
	first, _ := e.login("bo", "only looking in")
	planted := first.Cookies()[0]
	second, _ := e.login("ada", "sixteen tabby paws", "Cookie", planted.Name+"="+planted.Value)
	if got := second.Cookies()[0].Value; got == planted.Value || got == "" {
		t.Errorf("the planted token lives on: %q", got)
	}
}

// A new password ends the sessions that the old one opened.
func TestDoor_NewPassword_EndsSessions(t *testing.T) {
	e := serve(t, config())
	resp, _ := e.login("ada", "sixteen tabby paws")
	c := config()
	c.People[0].Hash, c.People[1].Hash = c.People[1].Hash, c.People[0].Hash
	c.Sessions, c.Frame = e.kept, func(w http.ResponseWriter, status int, _ string, _ template.HTML) { w.WriteHeader(status) }
	d, err := New(c, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequestWithContext(t.Context(), "GET", "/", nil)
	r.AddCookie(resp.Cookies()[0])
	w := httptest.NewRecorder()
	d.Handler(http.NotFoundHandler()).ServeHTTP(w, r)
	if w.Code != 303 {
		t.Errorf("the session of the old password still opens the door: %d", w.Code)
	}
}
