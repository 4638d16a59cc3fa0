// Package push tells browsers that asked to be told (Web Push: RFC 8030 for the
// way, RFC 8291 for the encryption, RFC 8292 for who sends).
//
// It guarantees: what is said is encrypted for the browser alone, so that the push
// service on the way cannot read it; nothing goes to a host that is no known push
// service and was not allowed by the keeper, whatever a browser claims to be; a
// browser that is gone is forgotten; and no endpoint appears in an error, since
// whoever knows it can write to the browser.
package push

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/internal/reply"

	"github.com/SherClockHolmes/webpush-go"
)

// Keys are by which push services know this house, as base64url.
type Keys struct {
	Private notify.Secret
	Public  string
}

// MakeKeys makes a pair.
func MakeKeys() (private, public string, err error) { return webpush.GenerateVAPIDKeys() }

// Config is how browsers are told.
type Config struct {
	Keys     Keys
	Contact  string       // whom a push service can write to: a mail address, or an https address
	Services []string     // hosts of push services besides the usual ones, as "push.example.org" or "127.0.0.1:8443"
	Client   *http.Client // nil: the usual one
}

// usualServices are the hosts of the push services of the widespread browsers
// (from memory); their sub-domains are meant, too.
var usualServices = []string{"fcm.googleapis.com", "push.services.mozilla.com", "push.apple.com", "notify.windows.com"}

// Push is a [notify.Transport] to the browsers of one channel.
type Push struct {
	conf    Config
	book    *Book
	channel string
	client  *http.Client
}

// New returns a transport to the browsers in book that belong to channel.
func New(c Config, book *Book, channel string) *Push {
	client := c.Client
	if client == nil {
		client = &http.Client{}
	}
	return &Push{conf: c, book: book, channel: channel, client: reply.Staying(client)}
}

// String hides what p holds: fmt would print its fields.
func (p *Push) String() string { return "push" }

// GoString hides it from %#v.
func (p *Push) GoString() string { return "push" }

// keep is how long a push service may keep a message for a browser that is off.
// It is a choice of this program: reminders come anyway.
const keep = 3 * 24 * time.Hour

// Send tells every browser of the channel. It returns nil if one of them was
// reached: the others show on the page of the channels. Told again, a browser
// shows a message with the same id in place of the first.
func (p *Push) Send(ctx context.Context, m notify.Message) error {
	browsers := p.book.Of(p.channel)
	if len(browsers) == 0 {
		return notify.Refused("no browser asks to be told any more")
	}
	text, err := payload(m)
	if err != nil {
		return notify.Refused("the message cannot be written as JSON")
	}
	results := make([]error, len(browsers))
	var all sync.WaitGroup
	for i, s := range browsers {
		all.Go(func() {
			ctx, cancel := context.WithTimeout(ctx, patience)
			defer cancel()
			results[i] = p.tell(ctx, s, m, text)
		})
	}
	all.Wait()
	return worth(results)
}

// patience is how long one push service may take, so that one that hangs does not
// make the others be told again.
const patience = 10 * time.Second

// worth is nil if one was reached, and otherwise the failure that leaves most hope.
func worth(results []error) error {
	var best *notify.Failure
	for _, err := range results {
		var f *notify.Failure
		switch {
		case err == nil:
			return nil
		case !errors.As(err, &f):
			return err
		case best == nil, f.Retry && (!best.Retry || f.After < best.After):
			best = f
		}
	}
	return best
}

// errGone is a browser that no longer asks to be told.
var errGone = &notify.Failure{Why: "the browser no longer asks to be told"}

func (p *Push) tell(ctx context.Context, s home.Subscription, m notify.Message, text []byte) error {
	if !p.conf.Allows(s.Endpoint) {
		return notify.Refused("its push service is not one that the settings allow")
	}
	// The library writes its padding behind the text: each browser needs its own.
	resp, err := webpush.SendNotificationWithContext(ctx, bytes.Clone(text), &webpush.Subscription{Endpoint: s.Endpoint, Keys: webpush.Keys{Auth: s.Auth, P256dh: s.Key}},
		&webpush.Options{
			HTTPClient: p.client, Subscriber: p.conf.Contact, Topic: topic(m.ID), TTL: int(keep.Seconds()), Urgency: urgency(m.Urgency),
			VAPIDPublicKey: p.conf.Keys.Public, VAPIDPrivateKey: string(p.conf.Keys.Private),
		})
	var sent *url.Error
	switch {
	case errors.As(err, &sent):
		return reply.Unreached(err)
	case err != nil:
		return notify.Refused("it cannot be encrypted for the browser")
	}
	defer resp.Body.Close()
	if resp.StatusCode == http.StatusNotFound || resp.StatusCode == http.StatusGone { // RFC 8030, 7.3
		if err := p.book.Remove(ctx, s.Endpoint); err != nil {
			return err
		}
		return errGone
	}
	return reply.Verdict(resp, time.Now())
}

// Allows reports whether the push service at endpoint may be spoken to.
func (c Config) Allows(endpoint string) bool {
	u, err := url.Parse(endpoint)
	if err != nil || u.Scheme != "https" {
		return false
	}
	for _, s := range c.Services {
		if u.Host == s {
			return true
		}
	}
	for _, s := range usualServices {
		if u.Host == s || strings.HasSuffix(u.Host, "."+s) {
			return true
		}
	}
	return false
}

// topic lets a message replace the same one that is still on its way: 32
// characters of base64url at most (RFC 8030, 5.4).
func topic(id string) string {
	sum := sha256.Sum256([]byte(id))
	return base64.RawURLEncoding.EncodeToString(sum[:24])
}

// urgency is what the push service does with a phone that sleeps (RFC 8030, 5.3).
func urgency(u home.Urgency) webpush.Urgency {
	switch {
	case u.Rank() >= home.Today.Rank():
		return webpush.UrgencyHigh
	case u.Rank() >= home.Book.Rank():
		return webpush.UrgencyNormal
	}
	return webpush.UrgencyLow
}

// shown is what the worker in the browser shows.
type shown struct {
	ID      string       `json:"id"`
	Urgency home.Urgency `json:"urgency"`
	Title   string       `json:"title"`
	Body    string       `json:"body"`
	Path    string       `json:"path"` // where a touch leads
}

// most is how many bytes of text fit into the one record that every push service
// takes: 4096 less the header, the tag and the end of the padding (RFC 8291, 4).
const most = 3993

// payload is m for the worker. A body that is too long is cut before the caution.
func payload(m notify.Message) ([]byte, error) {
	path := "/notices"
	if m.Finding != "" {
		path = (&url.URL{Path: "/findings/" + m.Finding}).EscapedPath()
	}
	s := shown{ID: m.ID, Urgency: m.Urgency, Title: m.Subject, Body: strings.TrimSpace(m.Body), Path: path}
	text, err := json.Marshal(s)
	for err == nil && len(text) > most {
		s.Body = shorter(s.Body, (len(text)-most+5)/6) // one byte of text is up to six of JSON
		text, err = json.Marshal(s)
	}
	return text, err
}

// shorter takes at least n bytes out of body, from the end of what stands before
// the caution.
func shorter(body string, n int) string {
	text, found := strings.CutSuffix(body, home.Caution)
	text = strings.TrimRight(text, "… \n")
	end := max(len(text)-n, 0)
	for end > 0 && !utf8.RuneStart(text[end]) {
		end--
	}
	if !found {
		return text[:end] + "…"
	}
	return text[:end] + "…\n\n" + home.Caution
}
