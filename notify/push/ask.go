package push

import (
	"embed"
	"encoding/json"
	"errors"
	"log/slog"
	"net/http"
	"slices"
	"time"

	"weighbeam/home"
)

//go:embed files
var files embed.FS

// AskOptions are what browsers speak to when they ask to be told. All but Trusted
// must be set.
type AskOptions struct {
	Book     *Book
	Allows   func(endpoint string) bool
	Channels []string // names a browser can ask for
	Now      func() time.Time
	Trusted  string // origin of the pages behind a proxy, as "http://cats.lan"; "": none
}

// asked is what the script of the page sends.
type asked struct {
	Channel  string `json:"channel"`
	Old      string `json:"old"` // endpoint that this one replaces: it keeps the channel
	Endpoint string `json:"endpoint"`
	Keys     struct {
		Key  string `json:"p256dh"`
		Auth string `json:"auth"`
	} `json:"keys"`
}

// Ask returns what the script of the page and the worker in the browser speak to.
// It answers "/notices/push.js", "/notices/worker.js" and, by POST,
// "/notices/push", "/notices/push/end" and "/notices/push/whose".
func Ask(o AskOptions) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /notices/push.js", script("files/push.js"))
	mux.HandleFunc("GET /notices/worker.js", script("files/worker.js"))
	mux.HandleFunc("POST /notices/push", o.begin)
	mux.HandleFunc("POST /notices/push/end", o.end)
	mux.HandleFunc("POST /notices/push/whose", o.whose)
	guard := http.NewCrossOriginProtection()
	if o.Trusted != "" {
		if err := guard.AddTrustedOrigin(o.Trusted); err != nil {
			slog.Warn("the address of the pages is no origin; browsers behind a proxy may be refused", "address", o.Trusted, "err", err)
		}
	}
	return guard.Handler(mux)
}

func script(name string) http.HandlerFunc {
	text, err := files.ReadFile(name)
	if err != nil {
		panic("push: " + err.Error()) // the embedding above is wrong
	}
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
		w.Header().Set("Cache-Control", "no-cache")
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Content-Security-Policy", "default-src 'none'; connect-src 'self'") // of the worker
		_, _ = w.Write(text)                                                                // a browser that went away is no fault of the program
	}
}

// read reads what was sent, or answers why it cannot.
func read(w http.ResponseWriter, r *http.Request) (asked, bool) {
	var a asked
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 8<<10)).Decode(&a); err != nil {
		http.Error(w, "What the browser sent could not be read. Load the page again.", http.StatusBadRequest)
		return a, false
	}
	return a, true
}

func (o AskOptions) begin(w http.ResponseWriter, r *http.Request) {
	a, ok := read(w, r)
	if !ok {
		return
	}
	if a.Old != "" {
		a.Channel = o.channelOf(a.Old)
	}
	s := home.Subscription{Endpoint: a.Endpoint, Channel: a.Channel, Key: a.Keys.Key, Auth: a.Keys.Auth, Added: o.Now().UTC().Truncate(home.TimeStep)}
	switch err := s.Valid(); {
	case err != nil:
		http.Error(w, "This browser cannot be told: "+err.Error()+".", http.StatusUnprocessableEntity)
	case !slices.Contains(o.Channels, a.Channel):
		http.Error(w, "There is no such channel. Load the page again.", http.StatusUnprocessableEntity)
	case !o.Allows(a.Endpoint):
		http.Error(w, "The push service of this browser is not one that the settings allow. Add its host to push_services.", http.StatusUnprocessableEntity)
	default:
		o.keep(w, r, a.Old, s)
	}
}

func (o AskOptions) keep(w http.ResponseWriter, r *http.Request, old string, s home.Subscription) {
	err := o.Book.Add(r.Context(), s)
	if err == nil && old != "" && old != s.Endpoint {
		err = o.Book.Remove(r.Context(), old)
	}
	o.answer(w, r, err)
}

func (o AskOptions) end(w http.ResponseWriter, r *http.Request) {
	if a, ok := read(w, r); ok {
		o.answer(w, r, o.Book.Remove(r.Context(), a.Endpoint))
	}
}

// answer is 204, or why something could not be kept.
func (o AskOptions) answer(w http.ResponseWriter, r *http.Request, err error) {
	var known *home.Error
	switch {
	case err == nil:
		w.WriteHeader(http.StatusNoContent)
	case errors.As(err, &known) && known.Hint != "":
		http.Error(w, known.Err.Error()+". "+known.Hint, http.StatusConflict)
	default:
		slog.ErrorContext(r.Context(), "keep a browser", "err", err)
		http.Error(w, "It could not be kept. Try again in a moment.", http.StatusServiceUnavailable)
	}
}

// whose says for which channel a browser asked, "" for none. Only who knows the
// endpoint can ask.
func (o AskOptions) whose(w http.ResponseWriter, r *http.Request) {
	a, ok := read(w, r)
	if !ok {
		return
	}
	w.Header().Set("Content-Type", "application/json")
	if err := json.NewEncoder(w).Encode(map[string]string{"channel": o.channelOf(a.Endpoint)}); err != nil {
		slog.DebugContext(r.Context(), "browser left", "err", err)
	}
}

func (o AskOptions) channelOf(endpoint string) string {
	for _, c := range o.Channels {
		for _, s := range o.Book.Of(c) {
			if s.Endpoint == endpoint {
				return c
			}
		}
	}
	return ""
}
