package browsertest

import (
	"context"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	permission "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"

	"weighbeam/app"
	"weighbeam/notify/push/pushtest"
)

// A person presses the button on the page and this browser is told: the script
// runs under the page's policy, the program sends, and the worker shows it; pressed
// again, it is told no longer. Only the push service of the browser's maker is
// stood in for, since it cannot be reached from here.
func TestNotices_InChromium_TellThisBrowser(t *testing.T) {
	ctx := tab(t)
	service := pushtest.Serve(t, pushtest.Created)
	ca := filepath.Join(t.TempDir(), "ca.pem")
	if err := os.WriteFile(ca, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: service.Certificate().Raw}), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("SSL_CERT_FILE", ca)
	cfg, err := app.ParseConfig(fmt.Appendf(nil, "data = %q\nlisten = \"127.0.0.1:0\"\npush_services = [%q]\n[broker]\nlisten = \"127.0.0.1:0\"\n",
		filepath.Join(t.TempDir(), "house.db"), service.Host()))
	if err != nil {
		t.Fatal(err)
	}
	a, err := app.Start(t.Context(), cfg, app.Options{Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(a.Stop)

	b := pushtest.NewBrowser(t)
	standIn(t, ctx, b, service.URL+"/to/1")
	registered := registrations(t, ctx, a.PagesURL())
	if _, err := chromedp.Call(ctx, permission.SetPermission, permission.SetPermissionParams{
		Permission: &permission.PermissionDescriptor{Name: "notifications"}, Setting: "granted", Origin: a.PagesURL()}); err != nil {
		t.Fatal(err)
	}
	do(t, ctx, chromedp.Navigate(a.PagesURL()+"/notices"))
	says(t, ctx, "This browser is not told.")
	do(t, ctx, chromedp.Click(chromedp.CSS("[data-channel] button")))
	says(t, ctx, "This browser is told.")
	do(t, ctx, chromedp.Reload())
	says(t, ctx, "This browser is told.")

	resp, err := http.PostForm(a.PagesURL()+"/notices/try", map[string][]string{"channel": {"browser"}})
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	took := service.Caught()
	if len(took) != 1 {
		t.Fatalf("the push service took %d messages", len(took))
	}
	text, err := b.Open([]byte(took[0].Body))
	if err != nil {
		t.Fatal(err)
	}
	worker := registered()
	deliver := func() { // again, where the worker was not awake yet: a message may come twice
		if _, err := chromedp.Call(ctx, serviceworker.DeliverPushMessage, serviceworker.DeliverPushMessageParams{
			Origin: a.PagesURL(), RegistrationID: worker, Data: text}); err != nil {
			t.Fatal(err)
		}
	}
	promised(t, ctx, deliver, `navigator.serviceWorker.getRegistration("/notices/").then((r) => r.getNotifications()).then((all) => all.length ? all[0].title + all[0].data.path : "")`,
		"Weighbeam: this channel works/notices")
	do(t, ctx, chromedp.Click(chromedp.CSS("[data-channel] button")))
	says(t, ctx, "This browser is not told.")
}

// standIn makes the page's push manager give out the subscription of b, as the
// browser's own would after it spoke to its maker's service.
func standIn(t *testing.T, ctx context.Context, b pushtest.Browser, endpoint string) {
	t.Helper()
	s := b.Subscription(endpoint, "browser")
	told, err := json.Marshal(map[string]any{"endpoint": s.Endpoint, "keys": map[string]string{"p256dh": s.Key, "auth": s.Auth}})
	if err != nil {
		t.Fatal(err)
	}
	source := fmt.Sprintf(`(() => {
		const told = %s, mark = "asked";
		const asked = { endpoint: told.endpoint, toJSON: () => told, unsubscribe: async () => localStorage.removeItem(mark) };
		PushManager.prototype.subscribe = async (o) => {
			if (!o.userVisibleOnly || o.applicationServerKey.length !== 65) throw new Error("asked wrongly");
			localStorage.setItem(mark, "1");
			return asked;
		};
		PushManager.prototype.getSubscription = async () => (localStorage.getItem(mark) ? asked : null);
	})()`, told)
	if _, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: source}); err != nil {
		t.Fatal(err)
	}
}

// registrations listens for the worker of the page; the function that it returns
// waits for it.
func registrations(t *testing.T, ctx context.Context, origin string) func() serviceworker.RegistrationID {
	t.Helper()
	found := make(chan serviceworker.RegistrationID, 1)
	err := chromedp.Listen(ctx, func(ev any) {
		updated, ok := ev.(*serviceworker.EventWorkerRegistrationUpdated)
		if !ok {
			return
		}
		for _, r := range updated.Registrations {
			if r.ScopeURL == origin+"/notices/" && !r.IsDeleted {
				select {
				case found <- r.RegistrationID:
				default:
				}
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, serviceworker.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	return func() serviceworker.RegistrationID {
		select {
		case id := <-found:
			return id
		case <-ctx.Done():
			t.Fatal("the page registered no worker")
			return ""
		}
	}
}

// says waits until the page says that of this browser.
func says(t *testing.T, ctx context.Context, text string) {
	t.Helper()
	promised(t, ctx, func() {}, `Promise.resolve(document.querySelector("[data-channel] [role=status]").textContent)`, text)
}

// promised waits until the promise of a text gives want, at most a minute, and acts
// every five seconds until then.
func promised(t *testing.T, ctx context.Context, act func(), promise, want string) {
	t.Helper()
	tick, last := time.NewTicker(50*time.Millisecond), ""
	defer tick.Stop()
	for i, deadline := 0, time.Now().Add(time.Minute); time.Now().Before(deadline); i++ {
		if i%100 == 0 {
			act()
		}
		<-tick.C
		if last = get(t, ctx, chromedp.Evaluate[string](promise, chromedp.EvalAwaitPromise)); last == want {
			return
		}
	}
	t.Fatalf("it says %q, not %q", last, want)
}
