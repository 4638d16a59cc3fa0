package browsertest

import (
	"context"
	"net/http"
	"testing"
	"time"

	"weighbeam/dashboards"
	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/desk"
	"weighbeam/notify/push"
)

// scripted lets a page run script of this host, as the program does for this one.
const scripted = dashboards.Policy + "; script-src 'self'; connect-src 'self'; worker-src 'self'"

// told is the page of the channels: one that works, one that does not, and one to
// browsers.
func told(frame dashboards.Frame) http.Handler {
	return desk.New(desk.Options{
		Frame: frame, Policy: scripted, PushKey: "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4",
		Ways: func() []desk.Way {
			return []desk.Way{
				{Channel: notify.Channel{Name: "phone", Least: home.Book, Quiet: notify.Quiet{From: 22 * 60, To: 7 * 60}}, Kind: "a message service"},
				{Channel: notify.Channel{Name: "mail", After: 2 * time.Hour}, Kind: "mail"},
				{Channel: notify.Channel{Name: "browser"}, Kind: "the browsers that ask for it", Browser: true},
			}
		},
		Health: func() notify.Health {
			return notify.Health{Channels: []notify.ChannelHealth{{Channel: "phone", Took: fakehouse.Now},
				{Channel: "mail", Failed: fakehouse.Now, Why: "the mail server refuses the login (SMTP 535)", Waiting: 2}}}
		},
		Browsers: func(string) int { return 1 },
		Try:      func(context.Context, string) error { return nil },
	})
}

// asking is what the script of that page speaks to, with nobody known.
func asking(t *testing.T) http.Handler {
	t.Helper()
	book, err := push.OpenBook(t.Context(), nobody{})
	if err != nil {
		t.Fatal(err)
	}
	return push.Ask(push.AskOptions{Book: book, Channels: []string{"browser"}, Now: time.Now, Allows: func(string) bool { return false }})
}

type nobody struct{}

func (nobody) Subscribe(context.Context, home.Subscription) error         { return nil }
func (nobody) Unsubscribe(context.Context, string) error                  { return nil }
func (nobody) Subscriptions(context.Context) ([]home.Subscription, error) { return nil, nil }
