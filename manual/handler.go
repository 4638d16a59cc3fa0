package manual

import (
	"bytes"
	"embed"
	"errors"
	"html/template"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/klauspost/compress/gzhttp"

	"weighbeam/home"
)

//go:embed templates
var files embed.FS

type room struct {
	store Store
	opts  Options
	words catalogue
	tmpl  *template.Template
}

func newRoomOf(store Store, opts Options) *room {
	return &room{store: store, opts: opts.filled(), words: opts.Words.catalogue()}
}

// Policy is the content security policy of the pages of this room: as that of all
// pages, and script from this host, which counts, and keeps what was typed.
const Policy = "default-src 'none'; style-src 'self'; img-src 'self'; script-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// inEnglish are the templates that the many houses of a process share.
var inEnglish = sync.OnceValue(english.templates)

func (c catalogue) templates() *template.Template {
	return template.Must(template.New("").Funcs(c.funcs()).ParseFS(files, "templates/*.html"))
}

// New returns the forms. It answers "/check", "/answer" where answers are taken,
// "/whose" where visits are named, and everything below them.
func New(store Store, opts Options) http.Handler {
	m := newRoomOf(store, opts)
	m.tmpl = inEnglish()
	if len(opts.Words.own) > 0 {
		m.tmpl = m.words.templates()
	}
	mux := http.NewServeMux()
	m.checkPages(mux)
	if m.opts.Answers != nil {
		mux.HandleFunc("GET /answer", m.ask)
		mux.HandleFunc("GET /answer/{token}", m.ask)
		mux.HandleFunc("POST /answer", m.answer)
		mux.HandleFunc("POST /answer/{token}", m.answer)
	}
	if m.opts.Namer != nil {
		mux.HandleFunc("GET /whose/{source}/{start}", m.whose)
		mux.HandleFunc("POST /whose/{source}/{start}", m.name)
	}
	guard := http.NewCrossOriginProtection()
	if o := opts.BaseURL; o != "" {
		if err := guard.AddTrustedOrigin(origin(o)); err != nil {
			slog.Warn("the address of the pages is no origin; posts through a proxy may be refused", "address", o, "err", err)
		}
	}
	return gzhttp.GzipHandler(guard.Handler(mux)) // the long form is a fifth of its size on the way to a telephone
}

// checkPages are the pages of the home check. No slug begins with a dash, so "-"
// is no cat's.
func (m *room) checkPages(mux *http.ServeMux) {
	mux.HandleFunc("GET /check", m.choose)
	mux.HandleFunc("POST /check", m.post)
	mux.HandleFunc("GET /check/{cat}", m.blank)
	mux.HandleFunc("GET /check/{cat}/stored/{id}", m.stored)
	mux.HandleFunc("GET /check/{cat}/now", m.now)
	mux.HandleFunc("GET /check/{cat}/reminders.ics", m.reminders)
	mux.HandleFunc("GET /check/-/reach", reach)
	mux.HandleFunc("GET /check/-/form.js", asset("form.js", "text/javascript; charset=utf-8"))
	mux.HandleFunc("GET /check/-/form.css", asset("form.css", "text/css; charset=utf-8"))
	if m.opts.Diary != nil {
		mux.HandleFunc("GET /check/-/photo/{id}", m.photo)
		mux.HandleFunc("GET /check/{cat}/history", m.history)
		mux.HandleFunc("GET /check/{cat}/correct/{id}", m.correct)
		mux.HandleFunc("POST /check/{cat}/take-back", m.takeBack)
		mux.HandleFunc("GET /check/{cat}/event", m.event)
		mux.HandleFunc("POST /check/{cat}/event", m.postEvent)
	}
}

// reach answers a page that asks whether the house can be reached.
func reach(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(http.StatusNoContent)
}

// asset answers with a file of the program.
func asset(name, kind string) http.HandlerFunc {
	content, err := files.ReadFile("templates/" + name)
	if err != nil {
		panic("manual: " + err.Error()) // it is part of the program
	}
	return func(w http.ResponseWriter, r *http.Request) {
		guarded(w.Header(), kind)
		w.Header().Set("Cache-Control", "no-cache")
		http.ServeContent(w, r, name, started, bytes.NewReader(content))
	}
}

// guarded are the headers of what is no page.
func guarded(h http.Header, kind string) {
	h.Set("Content-Type", kind)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Content-Security-Policy", "default-src 'none'")
}

// started dates the files that are part of the program.
var started = time.Now()

// origin cuts the path off an address.
func origin(address string) string {
	scheme, rest, _ := strings.Cut(address, "://")
	host, _, _ := strings.Cut(rest, "/")
	return scheme + "://" + host
}

// show writes a page.
func (m *room) show(w http.ResponseWriter, status int, name, title string, data any) {
	var body strings.Builder
	if err := m.tmpl.ExecuteTemplate(&body, name, data); err != nil {
		slog.Error("draw page", "page", name, "err", err)
		http.Error(w, "This page could not be drawn.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Security-Policy", Policy)
	text := body.String()
	if lang := m.opts.Words.lang; lang != "" { // the frame around it is English
		text = `<div lang="` + template.HTMLEscapeString(lang) + `">` + text + `</div>`
	}
	m.opts.Frame(w, status, title, template.HTML(text)) // escaped by html/template above
}

type trouble struct{ What, Hint string }

// problem shows that something could not be, by its words in the catalogue.
func (m *room) problem(w http.ResponseWriter, status int, what string) {
	m.show(w, status, "problem.html", m.words.say("problem."+what+"-title"), trouble{m.words.say("problem." + what), m.words.say("problem." + what + "-hint")})
}

// fail shows an error, and logs the ones that are not the reader's.
func (m *room) fail(w http.ResponseWriter, r *http.Request, err error) {
	if errors.Is(err, home.ErrNotFound) {
		m.problem(w, http.StatusNotFound, "missing")
		return
	}
	slog.ErrorContext(r.Context(), "home check", "path", r.URL.Path, "err", err)
	m.show(w, http.StatusInternalServerError, "problem.html", m.words.say("problem.failed-title"), trouble{m.words.say("problem.failed"), m.hint(err)})
}

func (m *room) hint(err error) string {
	if h := home.Hint(err); h != "" {
		return h
	}
	return m.words.say("problem.retry")
}
