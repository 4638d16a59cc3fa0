package door

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"log/slog"
	"net/http"
	"net/netip"
	"net/url"
	"path"
	"slices"
	"strings"

	"github.com/alexedwards/scs/v2"
	"github.com/go-chi/httprate"

	"weighbeam/home"
)

// Door stands before the pages.
type Door struct {
	cfg      Config
	proxies  []netip.Prefix
	sessions *scs.SessionManager
	one, all *httprate.RateLimiter // tries to sign in: of one address, of all
	log      *slog.Logger
}

// New returns a door, or what is wrong with c.
func New(c Config, log *slog.Logger) (*Door, error) {
	if err := c.Valid(); err != nil {
		return nil, err
	}
	proxies, err := ranges(c.Proxies)
	if err != nil {
		return nil, err
	}
	d := &Door{cfg: c, proxies: proxies, log: log}
	d.one, d.all = limiters()
	if len(c.People) > 0 {
		d.sessions = newSessions(c)
	}
	return d, nil
}

// person is the person of that name.
func (d *Door) person(name string) (Person, bool) {
	i := slices.IndexFunc(d.cfg.People, func(p Person) bool { return p.Name == name })
	if i < 0 {
		return Person{}, false
	}
	return d.cfg.People[i], true
}

// Handler lets those through to next who may ask for what they ask for.
func (d *Door) Handler(next http.Handler) http.Handler {
	inside := d.closed(next)
	if len(d.cfg.People) == 0 {
		inside = d.local(next)
	}
	guard := http.NewCrossOriginProtection()
	guard.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.refuse(w, http.StatusForbidden, "Another web page asked", "Another web page wanted to change something here. Nothing was changed. If it was this page, name its address with the key link.")
	}))
	if u, err := url.Parse(d.cfg.Link); err == nil && u.Host != "" {
		if err := guard.AddTrustedOrigin(u.Scheme + "://" + u.Host); err != nil {
			d.log.Warn("the key link is no address of a web page", "link", d.cfg.Link, "err", err)
		}
	}
	return guard.Handler(inside)
}

// local lets in those on the same machine who mean it: a name that was bent to
// loopback stands in Host, and what a proxy passes on did not start here.
func (d *Door) local(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case forwarded(r):
			d.refuse(w, http.StatusForbidden, "Behind a proxy", "A proxy passed this on, and the pages have no password. Name people and proxies under [door] in the settings.")
		case !home.Loopback(r.Host):
			d.refuse(w, http.StatusMisdirectedRequest, "Not this name", "Without a password the pages answer to 127.0.0.1 and localhost only.")
		default:
			next.ServeHTTP(w, d.as(r, Person{Role: Keeper}))
		}
	})
}

// closed asks who is there.
func (d *Door) closed(next http.Handler) http.Handler {
	pages := d.pages()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		p, ok, err := d.signedIn(r)
		if err != nil {
			d.log.Error("reading a session", "err", err)
			d.refuse(w, http.StatusInternalServerError, "The door failed", "Try again in a moment; the log of the program says more.")
			return
		}
		if ok {
			r = d.as(r, p)
		}
		switch h, pattern := pages.Handler(r); {
		case pattern != "":
			h.ServeHTTP(w, r)
		case d.free(r), ok && d.may(p, r):
			next.ServeHTTP(w, r)
		case ok:
			d.refuse(w, http.StatusForbidden, "You may look", "You may look at every page. Changing something needs a keeper.")
		default:
			d.turnAway(w, r)
		}
	})
}

// free reports whether r needs no session.
func (d *Door) free(r *http.Request) bool {
	switch {
	case path.Clean(r.URL.Path) != r.URL.Path: // a second spelling of something
		return false
	case r.URL.Path == "/style.css", r.URL.Path == "/icon.svg", r.URL.Path == "/healthz":
		return r.Method == http.MethodGet || r.Method == http.MethodHead
	case strings.HasPrefix(r.URL.Path, "/answer/"): // its token is looked at there
		return true
	case r.URL.Path == "/api/v1/readings", r.URL.Path == "/api/v1/checks", strings.HasPrefix(r.URL.Path, "/api/v1/scales/"):
		// A device's token is looked at there. Where none has one, what comes from this machine
		// needs none there, and a proxy may not say that it only passes something on.
		return d.cfg.Devices
	case r.URL.Path == "/metrics":
		return d.scrapes(r)
	}
	return false
}

func (d *Door) scrapes(r *http.Request) bool {
	token, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	want, got := sha256.Sum256([]byte(d.cfg.Scrape)), sha256.Sum256([]byte(token))
	return ok && d.cfg.Scrape != "" && subtle.ConstantTimeCompare(want[:], got[:]) == 1
}

func (d *Door) may(p Person, r *http.Request) bool {
	return p.Role == Keeper || (r.Method == http.MethodGet || r.Method == http.MethodHead) && r.URL.Path != "/metrics"
}

type contextKey struct{}

func (d *Door) as(r *http.Request, p Person) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), contextKey{}, p))
}

// Who is the person that a request behind the door comes from; false where it
// needed nobody. Without people it is a keeper without a name.
func Who(ctx context.Context) (Person, bool) {
	p, ok := ctx.Value(contextKey{}).(Person)
	return p, ok
}

// forwarded reports whether a proxy says that it passed r on.
func forwarded(r *http.Request) bool {
	for _, name := range []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-Ip", "Via"} {
		if r.Header.Get(name) != "" {
			return true
		}
	}
	return false
}
