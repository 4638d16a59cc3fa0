package app

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/desk"
)

// receiver counts what reaches it.
type receiver struct {
	*httptest.Server
	mu  sync.Mutex
	got []string
}

func newReceiver(t *testing.T) *receiver {
	r := &receiver{}
	r.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, req *http.Request) {
		body, _ := io.ReadAll(req.Body) // what there is of it is compared below
		r.mu.Lock()
		defer r.mu.Unlock()
		r.got = append(r.got, string(body))
	}))
	t.Cleanup(r.Close)
	return r
}

func (r *receiver) took() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.got)
}

// filledIn posts a form of the pages and returns where that led, and the page there. A
// form of the household is made from the household as it is, where it says of no other.
func filledIn(t *testing.T, a *App, path string, form url.Values) (status int, at, page string) {
	t.Helper()
	if strings.HasPrefix(path, "/household/") && !form.Has("was") {
		form.Set("was", a.house.Load().Mark())
	}
	resp, err := http.PostForm(a.PagesURL()+path, form)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, resp.Request.URL.Path, string(body)
}

func startTold(t *testing.T, data, settings string) *App {
	t.Helper()
	cfg, err := ParseConfig(fmt.Appendf(nil, "data = %q\nlisten = \"127.0.0.1:0\"\n%s[broker]\nlisten = \"127.0.0.1:0\"\n", data, settings))
	if err != nil {
		t.Fatal(err)
	}
	a, err := Start(context.Background(), cfg, Options{Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Round: 5 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(a.Stop)
	return a
}

// flagged makes a finding about a cat that everybody is told of.
func flagged(t *testing.T, a *App, cat string) {
	t.Helper()
	check := home.HomeCheck{ID: "of-" + cat, Cat: cat, Time: time.Now().Truncate(time.Second), RedFlags: home.RedFlags()[:1]}
	if _, err := a.store.Append(t.Context(), home.Batch{Checks: []home.HomeCheck{check}}); err != nil {
		t.Fatal(err)
	}
}

func waits(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(30 * time.Second); !ok(); {
		if time.Now().After(end) {
			t.Fatalf("never: %s", what)
		}
		<-time.After(2 * time.Millisecond)
	}
}

// Somebody who is added on the page is told of the next finding without a restart,
// still is after one, and is told no more once taken off.
func TestApp_Contact_IsToldAtOnceAndAfterAStart(t *testing.T) {
	r, data := newReceiver(t), filepath.Join(t.TempDir(), "house.db")
	a := startTold(t, data, "")
	if err := a.SetHousehold(t.Context(), home.Household{Cats: []home.Cat{{ID: "plum", Name: "Plum"}, {ID: "fig", Name: "Fig"}}}); err != nil {
		t.Fatal(err)
	}
	hook := url.Values{"new": {"1"}, "id": {"ada"}, "way": {"webhook"}, "least": {"mention"}, "secret_webhook": {r.URL + "/cats?token=apricot"}}
	if status, at, page := filledIn(t, a, "/household/contact", hook); status != 200 || at != "/household" || strings.Contains(page, "apricot") {
		t.Fatalf("%d %s\n%s", status, at, page)
	}
	if _, at, page := filledIn(t, a, "/notices/try", url.Values{"channel": {"ada"}}); at != "/notices" || !strings.Contains(page, "ada took the trial") || strings.Contains(page, "apricot") {
		t.Errorf("the trial led to %s\n%s", at, page)
	}
	flagged(t, a, "plum")
	waits(t, "the finding reaches the address", func() bool { return len(r.took()) == 2 })
	a.Stop()

	a = startTold(t, data, "")
	flagged(t, a, "fig")
	waits(t, "the next finding does, after a start", func() bool { return len(r.took()) == 3 })
	// The same entry without a new address keeps the old one.
	change := url.Values{"id": {"ada"}, "way": {"webhook"}, "least": {"now"}, "quiet_from": {"22:00"}, "quiet_to": {"07:00"}, "after": {"10m"}}
	if status, at, page := filledIn(t, a, "/household/contact", change); status != 200 || at != "/household" {
		t.Fatalf("%d %s\n%s", status, at, page)
	}
	isAda := func(w desk.Way) bool { return w.Name == "ada" }
	ways := a.told().cfg.Ways()
	if i := slices.IndexFunc(ways, isAda); i < 0 || ways[i].Least != home.Now || ways[i].After != 10*time.Minute || ways[i].Quiet.From.String() != "22:00" || !ways[i].Ours {
		t.Errorf("it became one of %+v", ways)
	}
	if _, at, page := filledIn(t, a, "/notices/try", url.Values{"channel": {"ada"}}); at != "/notices" || !strings.Contains(page, "ada took the trial") {
		t.Errorf("the trial led to %s\n%s", at, page)
	}
	if _, _, page := filledIn(t, a, "/household/contact", url.Values{"id": {"ada"}, "remove": {"1"}}); !strings.Contains(page, "Nobody was added here") {
		t.Errorf("it is there still:\n%s", page)
	}
	if secrets, err := a.store.Secrets(t.Context()); err != nil || len(secrets) > 0 {
		t.Errorf("its address is kept: %v, %v", secrets, err)
	}
}

// A household that is brought from another house has no passwords: it is taken, the
// program starts with it, and the page of the channels says what lacks until it is typed.
func TestApp_Contact_WithoutItsSecret(t *testing.T) {
	r, data := newReceiver(t), filepath.Join(t.TempDir(), "house.db")
	a := startTold(t, data, "")
	file := "[[cat]]\nid = \"plum\"\nname = \"Plum\"\n[[contact]]\nname = \"ada\"\nway = \"webhook\"\nleast = \"book\"\n"
	if status, at, page := filledIn(t, a, "/household/import", url.Values{"text": {file}}); status != 200 || at != "/household" {
		t.Fatalf("%d %s\n%s", status, at, page)
	}
	a.Stop()
	a = startTold(t, data, "")
	if _, _, page := filledIn(t, a, "/notices/try", url.Values{"channel": {"ada"}}); !strings.Contains(page, "the address of ada is not there: Type it on the page of the contact") {
		t.Errorf("the trial says:\n%s", page)
	}
	if _, at, page := filledIn(t, a, "/household/contact", url.Values{"id": {"ada"}, "way": {"webhook"}, "least": {"book"}, "secret_webhook": {r.URL}}); at != "/household" {
		t.Fatalf("%s\n%s", at, page)
	}
	if _, _, page := filledIn(t, a, "/notices/try", url.Values{"channel": {"ada"}}); !strings.Contains(page, "ada took the trial") || len(r.took()) != 1 {
		t.Errorf("the trial says:\n%s", page)
	}
}

// What cannot work is refused before anything is changed, with what was typed but for
// the secret.
func TestApp_Contact_Refused(t *testing.T) {
	a := startTold(t, filepath.Join(t.TempDir(), "house.db"), "[[webhook]]\nname = \"lamp\"\nurl = \"http://127.0.0.1:9/x\"\n")
	for name, tt := range map[string]struct {
		form url.Values
		says string
	}{
		"a name of the settings":      {url.Values{"id": {"lamp"}, "way": {"topic"}, "topic": {"house/said"}}, "has this name"},
		"a name of the program":       {url.Values{"id": {"page"}, "way": {"topic"}, "topic": {"house/said"}}, "has this name"},
		"no way":                      {url.Values{"id": {"ada"}}, "Choose how"},
		"a service without address":   {url.Values{"id": {"ada"}, "way": {"service"}}, "Type it on the page"},
		"a service that is not known": {url.Values{"id": {"ada"}, "way": {"service"}, "secret_service": {"pigeon://coop"}}, "class=\"wrong\""},
		"mail to nobody":              {url.Values{"id": {"ada"}, "way": {"mail"}, "server": {"mail.example.org:587"}, "from": {"cats@example.org"}}, "no mail address"},
		"mail without a port":         {url.Values{"id": {"ada"}, "way": {"mail"}, "server": {"mail.example.org"}, "from": {"cats@example.org"}, "to": {"x"}, "mail_to": {"ada@example.org"}}, "has no port"},
		"a topic with a wildcard":     {url.Values{"id": {"ada"}, "way": {"topic"}, "topic": {"house/#"}}, "class=\"wrong\""},
		"stands in for nobody":        {url.Values{"id": {"ada"}, "way": {"topic"}, "topic": {"a"}, "for": {"ghost"}, "after": {"2h"}}, "class=\"wrong\""},
		"an hour that is none":        {url.Values{"id": {"ada"}, "way": {"topic"}, "topic": {"a"}, "digest": {"8 Uhr"}}, "no time of day"},
		"no length of time":           {url.Values{"id": {"ada"}, "way": {"topic"}, "topic": {"a"}, "after": {"soon"}}, "no length of time"},
	} {
		t.Run(name, func(t *testing.T) {
			tt.form.Set("new", "1")
			status, at, page := filledIn(t, a, "/household/contact", tt.form)
			if status != http.StatusUnprocessableEntity || at != "/household/contact" || !strings.Contains(page, tt.says) || strings.Contains(page, "pigeon://coop") {
				t.Errorf("%d %s\n%s", status, at, page)
			}
			if h := a.house.Load(); len(h.Contacts) > 0 {
				t.Errorf("now there is %+v", h.Contacts)
			}
		})
	}
}

// What the house goes by holds on the pages, for notices and for the sheet from the
// moment on, in place of the settings.
func TestApp_Ways_HoldAtOnce(t *testing.T) {
	a := startTold(t, filepath.Join(t.TempDir(), "house.db"), "[[webhook]]\nname = \"lamp\"\nurl = \"http://127.0.0.1:9/x\"\n")
	if err := a.SetHousehold(t.Context(), home.Household{Cats: []home.Cat{{ID: "plum", Name: "Plum"}}}); err != nil {
		t.Fatal(err)
	}
	before := a.told().sender
	if status, at, page := filledIn(t, a, "/household/ways", url.Values{"units": {"lb"}, "zone": {"Asia/Kathmandu"}, "quiet_from": {"21:00"}, "quiet_to": {"06:30"},
		"practice": {"Mill Lane"}, "phone": {"555 0100"}}); status != 200 || at != "/household" || !strings.Contains(page, "Mill Lane") {
		t.Fatalf("%d %s\n%s", status, at, page)
	}
	for path, says := range map[string]string{"/household/ways": time.Now().In(time.FixedZone("", 5*3600+45*60)).Format("15:"), "/check/plum": `value="lb" selected`,
		"/check/plum/now?flag=collapse": "555 0100", "/notices": "between 21:00 and 06:30"} {
		resp, err := http.Get(a.PagesURL() + path)
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(resp.Body)
		resp.Body.Close()
		if err != nil || !strings.Contains(string(body), says) {
			t.Errorf("%s does not say %q, %v", path, says, err)
		}
	}
	p := a.policy()
	if !p.Words.Pounds || p.Words.Zone.String() != "Asia/Kathmandu" || len(p.Channels) != 1 || p.Channels[0].Quiet.Zone.String() != "Asia/Kathmandu" {
		t.Errorf("who is told goes by %+v", p)
	}
	if before == a.told().sender {
		t.Error("the sender is the one of before")
	}
}

// A browser that gives up while the household changes, and a change that cannot be
// made ready, leave somebody who tells.
func TestApp_Retell_CutShort_StillTells(t *testing.T) {
	r := newReceiver(t)
	a := startTold(t, filepath.Join(t.TempDir(), "house.db"), "[[webhook]]\nname = \"lamp\"\nurl = \""+r.URL+"\"\n")
	plum := home.Household{Cats: []home.Cat{{ID: "plum", Name: "Plum"}}}
	if err := a.SetHousehold(t.Context(), plum); err != nil {
		t.Fatal(err)
	}
	ctx, giveUp := context.WithCancel(t.Context())
	before := a.told()
	plum.Units = "lb"
	a.retelling.Lock()
	done := make(chan error, 1)
	go func() { done <- a.SetHousehold(ctx, plum) }()
	waits(t, "it is stored", func() bool { return a.house.Load().Units == "lb" })
	giveUp()
	a.retelling.Unlock()
	if err := <-done; err != nil || a.told() == before || a.now().Units.text != "lb" {
		t.Fatalf("%v; it goes by %q", err, a.now().Units.text)
	}
	flagged(t, a, "plum")
	waits(t, "the finding is told", func() bool { return len(r.took()) == 1 })
	if s := a.notifyStage(); s.Problem != "" {
		t.Error(s.Problem)
	}
	// A store that fails is found out before the sender stops, and one that was
	// stopped for good stays so.
	stopped := false
	was := *a.told()
	was.stop = func() { stopped = true }
	broken := &App{cfg: a.cfg, opt: a.opt, store: a.store, silenced: true}
	broken.telling.Store(&was)
	plum.Units = "kg"
	if err := broken.retell(t.Context(), plum); err != nil || stopped {
		t.Errorf("while the program stops: %v, stopped: %v", err, stopped)
	}
	broken.silenced = false
	a.Stop()
	if err := broken.retell(t.Context(), plum); err == nil || stopped {
		t.Errorf("with the store closed: %v, stopped: %v", err, stopped)
	}
}

// A sender that does not look for what is due any more is no well one.
func TestNotifyStage_NobodyLooks(t *testing.T) {
	now := time.Now()
	for looked, problem := range map[time.Duration]string{
		notify.DefaultIdle: "", // asleep, as it may be
		8 * time.Minute:    "It has not looked for what is due for 8m0s.",
	} {
		if s := notifyStage(notify.Health{Looked: now.Add(-looked)}, now); s.Problem != problem {
			t.Errorf("%v: %q", looked, s.Problem)
		}
	}
}
