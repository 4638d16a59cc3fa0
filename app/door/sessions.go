package door

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"time"

	"github.com/alexedwards/scs/v2"
)

// life is how long a session lasts.
const life = 30 * 24 * time.Hour

// The keys of what a session holds.
const (
	keyName = "name"
	keyHash = "hash"
)

// Sessions keeps sessions by the hash of their token; see store.DB.
type Sessions interface {
	Session(ctx context.Context, hash string, now time.Time) (body []byte, found bool, err error)
	KeepSession(ctx context.Context, hash string, body []byte, until, now time.Time) error
	DropSession(ctx context.Context, hash string) error
}

// kept is [Sessions] as the library wants them. Its methods without a context are
// never called.
type kept struct {
	scs.Store
	Sessions
}

func (k kept) FindCtx(ctx context.Context, hash string) ([]byte, bool, error) {
	return k.Session(ctx, hash, time.Now())
}

func (k kept) CommitCtx(ctx context.Context, hash string, body []byte, until time.Time) error {
	return k.KeepSession(ctx, hash, body, until, time.Now())
}

func (k kept) DeleteCtx(ctx context.Context, hash string) error { return k.DropSession(ctx, hash) }

func newSessions(c Config) *scs.SessionManager {
	// Not scs.New: it starts a cleaner of a store in memory, which cannot be stopped
	// without a race.
	s := &scs.SessionManager{
		Store: kept{Sessions: c.Sessions}, Codec: scs.GobCodec{}, HashTokenInStore: true, Lifetime: life,
		Cookie: scs.SessionCookie{Name: "weighbeam", Path: "/", HttpOnly: true, SameSite: http.SameSiteLaxMode, Persist: true},
	}
	if c.secure() {
		// With this prefix a browser takes the cookie from this host over TLS only (RFC 6265bis).
		s.Cookie.Name, s.Cookie.Secure = "__Host-weighbeam", true
	}
	return s
}

// load returns a context with the session of r, new where it has none.
func (d *Door) load(r *http.Request) (context.Context, error) {
	token := ""
	if c, err := r.Cookie(d.sessions.Cookie.Name); err == nil {
		token = c.Value
	}
	return d.sessions.Load(r.Context(), token)
}

// signedIn is who asks, by their session. It ends when the person's password or
// name is changed in the settings.
func (d *Door) signedIn(r *http.Request) (Person, bool, error) {
	ctx, err := d.load(r)
	if err != nil {
		return Person{}, false, err
	}
	p, ok := d.person(d.sessions.GetString(ctx, keyName))
	return p, ok && d.sessions.GetString(ctx, keyHash) == fingerprint(p), nil
}

// open starts a session for p and gives its cookie to the browser. The token is
// new, whatever the browser brought.
func (d *Door) open(w http.ResponseWriter, r *http.Request, p Person) error {
	ctx, err := d.load(r)
	if err != nil {
		return err
	}
	if err := d.sessions.RenewToken(ctx); err != nil {
		return err
	}
	d.sessions.Put(ctx, keyName, p.Name)
	d.sessions.Put(ctx, keyHash, fingerprint(p))
	token, expires, err := d.sessions.Commit(ctx)
	if err != nil {
		return err
	}
	d.sessions.WriteSessionCookie(ctx, w, token, expires)
	return nil
}

// end ends the session of r.
func (d *Door) end(w http.ResponseWriter, r *http.Request) error {
	ctx, err := d.load(r)
	if err != nil {
		return err
	}
	if err := d.sessions.Destroy(ctx); err != nil {
		return err
	}
	d.sessions.WriteSessionCookie(ctx, w, "", time.Time{})
	return nil
}

// fingerprint changes with the password of p, and tells nothing of it.
func fingerprint(p Person) string {
	sum := sha256.Sum256([]byte(p.Hash))
	return hex.EncodeToString(sum[:8])
}
