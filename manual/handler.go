package manual

import (
	"embed"
	"errors"
	"html/template"
	"log/slog"
	"net/http"
	"strings"

	"weighbeam/home"
)

//go:embed templates
var files embed.FS

// maxBody holds the longest note many times over, so that a note that is too
// long comes back to its writer instead of being refused unread.
const maxBody = 512 << 10

type room struct {
	store Store
	opts  Options
	tmpl  *template.Template
}

// New returns the forms. It answers "/check", "/answer" where answers are taken,
// "/whose" where visits are named, and everything below them.
func New(store Store, opts Options) http.Handler {
	m := &room{store: store, opts: opts.filled()}
	m.tmpl = template.Must(template.New("").Funcs(m.funcs()).ParseFS(files, "templates/*.html"))
	mux := http.NewServeMux()
	mux.HandleFunc("GET /check", m.choose)
	mux.HandleFunc("GET /check/{cat}", m.blank)
	mux.HandleFunc("POST /check", m.post)
	mux.HandleFunc("GET /check/{cat}/stored/{id}", m.stored)
	mux.HandleFunc("GET /check/{cat}/now", m.now)
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
	return guard.Handler(mux)
}

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
	m.opts.Frame(w, status, title, template.HTML(body.String())) // escaped by html/template above
}

type trouble struct{ What, Hint string }

// fail shows an error, and logs the ones that are not the reader's.
func (m *room) fail(w http.ResponseWriter, r *http.Request, err error) {
	if errors.Is(err, home.ErrNotFound) {
		m.show(w, http.StatusNotFound, "problem.html", "Not found", trouble{"There is nothing at this address.", "Start from the list of cats."})
		return
	}
	slog.ErrorContext(r.Context(), "home check", "path", r.URL.Path, "err", err)
	m.show(w, http.StatusInternalServerError, "problem.html", "This page failed", trouble{"This page could not be put together.", hint(err)})
}

func hint(err error) string {
	if h := home.Hint(err); h != "" {
		return h
	}
	return "Try again in a moment; the log of the program says more."
}
