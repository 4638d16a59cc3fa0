package browsertest

import (
	"html/template"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"weighbeam/app/door"
	"weighbeam/dashboards"
	"weighbeam/dashboards/fakehouse"
	"weighbeam/store"
)

// locked puts a door before the pages of a house, as the program does.
func locked(t *testing.T) string {
	t.Helper()
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "house.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	hash, err := door.Hash("sixteen tabby paws")
	if err != nil {
		t.Fatal(err)
	}
	look := dashboards.Options{Door: true}
	frame := dashboards.NewFrame(look)
	d, err := door.New(door.Config{
		Listen: "127.0.0.1:0", People: []door.Person{{Name: "ada", Role: door.Keeper, Hash: hash}, {Name: "bo", Role: door.Viewer, Hash: hash}},
		Sessions: db, Frame: func(w http.ResponseWriter, status int, title string, body template.HTML) {
			frame(w, status, title, body)
		},
	}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	h := fakehouse.Lived()
	srv := httptest.NewServer(d.Handler(dashboards.New(h, h, look)))
	t.Cleanup(srv.Close)
	return srv.URL
}

// A person who followed a link signs in without script, ends where the link led,
// and signs out again. The door's pages are as accessible as all others.
func TestDoor_WithoutScript_SignsInAndOut(t *testing.T) {
	ctx, at, js := tab(t), locked(t), string(npmFile(t, axeCore))
	screen(t, ctx, 320, "dark")
	do(t, ctx, chromedp.Navigate(at+"/cats/mustard"))
	report(t, "login", violations(t, ctx, js))
	keepPicture(t, artefacts(t), "login-320-dark", get(t, ctx, chromedp.FullScreenshot(100)))
	withoutScript(t, ctx)
	signIn := func(password string) {
		do(t, ctx, chromedp.SetValue(chromedp.ID("name"), "ada"), chromedp.SendKeys(chromedp.ID("password"), password))
		press(t, ctx, "button.main")
	}
	signIn("wrong")
	has(t, text(t, ctx), "do not belong together")
	screen(t, ctx, 1280, "light")
	keepPicture(t, artefacts(t), "login-wrong-1280-light", get(t, ctx, chromedp.FullScreenshot(100)))
	signIn("sixteen tabby paws")
	has(t, get(t, ctx, chromedp.Location()), "/cats/mustard")
	do(t, ctx, chromedp.Navigate(at+"/door"))
	has(t, text(t, ctx), "Signed in as ada")
	press(t, ctx, "main button")
	do(t, ctx, chromedp.Navigate(at+"/"))
	has(t, get(t, ctx, chromedp.Location()), "/login")
}
