package dashboards

import (
	"context"
	"embed"
	"errors"
	"html/template"
	"log/slog"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"weighbeam/home"
)

// Options are the settings of the pages.
type Options struct {
	Now     func() time.Time // nil: time.Now
	Zone    *time.Location   // whose days and hours are shown; nil: time.Local
	Units   string           // of body weight: "kg" (also when empty) or "lb"
	Broker  string           // host:port to send readings to, for the sample payloads; empty: 127.0.0.1:1883
	Notes   func() []string  // sentences shown at the top of every page; may be nil
	Demo    bool             // the house is made up; every page says so
	Version string           // shown in the footer
	Door    bool             // people sign in; the footer links to the page "/door"
	Naming  bool             // visits link to the page "/whose", where a person says whose they were
	// Claimer changes what was set aside, at the page "/set-aside"; nil: it is only listed.
	Claimer Claimer
	// Householder changes the household, at the page "/household"; nil: there is none.
	Householder Householder
	Origin      string // scheme and host of the pages as browsers see them through a proxy, "" for as they are
	// Hearing is what arrives, for the page "/listen"; nil: there is none. ValidFilter
	// says what is wrong with an MQTT topic filter.
	Hearing     Hearing
	ValidFilter func(filter string) error
	// Bench lets scales be looked at closely and calibrated; nil: there are no such pages.
	Bench Bench
	// Reactions returns what people said to a finding, oldest first. With it, a
	// finding links to the page "/answer"; nil: no answers are taken.
	Reactions func(ctx context.Context, finding string) ([]home.Reaction, error)
	// Steps returns every decision about the notices of a finding, in the order in
	// which they were made; nil: only the last of each is shown.
	Steps func(ctx context.Context, finding string) ([]home.NoticeStep, error)
}

func (o Options) filled() Options {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Zone == nil {
		o.Zone = time.Local
	}
	if o.Broker == "" {
		o.Broker = "127.0.0.1:1883"
	}
	if o.Notes == nil {
		o.Notes = func() []string { return nil }
	}
	if o.ValidFilter == nil {
		o.ValidFilter = func(string) error { return nil }
	}
	return o
}

//go:embed templates
var files embed.FS

// pages is the room: what every handler needs.
type pages struct {
	store Store
	look  Outlooker
	opts  Options
	frame Frame
	say   format
	tmpl  *template.Template

	following atomic.Int64 // pages that follow what arrives
}

func newPages(store Store, look Outlooker, opts Options) *pages {
	opts = opts.filled()
	return &pages{store: store, look: look, opts: opts, frame: NewFrame(opts),
		say: format{zone: opts.Zone, pounds: opts.Units == "lb"}}
}

// New returns the pages of the house. It answers "/", "/cats/", "/findings/",
// "/sources/", "/set-aside", "/listen" and "/style.css"; every other path is not found.
func New(store Store, look Outlooker, opts Options) http.Handler {
	p := newPages(store, look, opts)
	p.tmpl = p.say.templates()
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", p.page(p.house))
	mux.HandleFunc("GET /cats/{id}", p.page(p.cat))
	mux.HandleFunc("GET /cats/{id}/{chart}", p.chart)
	mux.HandleFunc("GET /cats/{id}/sheet", p.page(p.sheet))
	mux.HandleFunc("GET /cats/{id}/sheet.pdf", p.sheetFile(PDF))
	mux.HandleFunc("GET /cats/{id}/sheet.csv", p.sheetFile(CSV))
	mux.HandleFunc("GET /cats/{id}/sheet.fhir", p.sheetFile(FHIR))
	mux.HandleFunc("GET /cats/{id}/sheet.html", p.sheetFile(HTML))
	mux.HandleFunc("GET /sources/{id}", p.page(p.scale))
	if opts.Bench != nil {
		mux.HandleFunc("GET /sources/{id}/calibrate", p.calibrate)
		mux.HandleFunc("POST /sources/{id}/calibrate", p.keepCalibration)
		mux.HandleFunc("GET /sources/{id}/live", p.live)
		mux.HandleFunc("GET /live.js", p.file("live.js", "text/javascript; charset=utf-8"))
		mux.HandleFunc("GET /sources/{id}/visits/{start}", p.page(p.visit))
		mux.HandleFunc("GET /sources/{id}/visits/{start}/trace.svg", p.traceSVG)
	}
	mux.HandleFunc("GET /findings/{id...}", p.page(p.finding))
	mux.HandleFunc("GET /set-aside", p.page(p.setAside))
	if opts.Householder != nil {
		p.householdRoutes(mux)
	}
	if opts.Claimer != nil {
		mux.HandleFunc("POST /set-aside/claim", p.claim)
		mux.HandleFunc("POST /set-aside/retry", p.retry)
		mux.HandleFunc("POST /set-aside/dismiss", p.dismiss)
	}
	if opts.Hearing != nil {
		mux.HandleFunc("GET /listen", p.listen)
		mux.HandleFunc("GET /listen/events", p.follow)
		mux.HandleFunc("GET /listen.js", p.file("listen.js", "text/javascript; charset=utf-8"))
	}
	mux.HandleFunc("GET /style.css", p.file("frame.css", "text/css; charset=utf-8"))
	mux.HandleFunc("GET /spots.js", p.file("spots.js", "text/javascript; charset=utf-8"))
	mux.HandleFunc("GET /icon.svg", p.file("icon.svg", "image/svg+xml"))
	mux.HandleFunc("GET /", p.page(func(*http.Request) (view, error) { return view{}, home.ErrNotFound }))
	guard := http.NewCrossOriginProtection()
	if opts.Origin != "" {
		if err := guard.AddTrustedOrigin(opts.Origin); err != nil {
			slog.Warn("posts through a proxy may be refused", "origin", opts.Origin, "err", err)
		}
	}
	return guard.Handler(mux)
}

// drawn are the templates by the name of the zone whose times they write: the many
// houses of a process share them, and one that starts its pages anew has them at once.
var drawn sync.Map

func (f format) templates() *template.Template {
	if t, ok := drawn.Load(f.zone.String()); ok {
		return t.(*template.Template)
	}
	t, _ := drawn.LoadOrStore(f.zone.String(), template.Must(template.New("").Funcs(f.funcs()).ParseFS(files, "templates/*.html")))
	return t.(*template.Template)
}

// view is a page to be: the template that draws it, its title and its data.
type view struct {
	name  string
	title string
	data  any
}

// scripted are the pages with a script of their own; they do without it, too.
var scripted = map[string]bool{"cat.html": true, "finding.html": true}

// page turns a function that gathers a view into a handler.
func (p *pages) page(gather func(*http.Request) (view, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v, err := gather(r)
		p.draw(w, r, v, err)
	}
}

// draw answers with a view. An error is logged here, once, and shown as a page.
func (p *pages) draw(w http.ResponseWriter, r *http.Request, v view, err error) {
	status := http.StatusOK
	if err != nil {
		v, status = problem(r, err)
	}
	p.write(w, r, status, v)
}

func (p *pages) write(w http.ResponseWriter, r *http.Request, status int, v view) {
	var body strings.Builder
	if err := p.tmpl.ExecuteTemplate(&body, v.name, v.data); err != nil {
		slog.ErrorContext(r.Context(), "draw page", "page", v.name, "err", err)
		http.Error(w, "This page could not be drawn.", http.StatusInternalServerError)
		return
	}
	if scripted[v.name] {
		guard(w.Header(), scriptPolicy)
	}
	p.frame(w, status, v.title, template.HTML(body.String())) // escaped by html/template above
}

type trouble struct{ What, Hint string }

func problem(r *http.Request, err error) (view, int) {
	if errors.Is(err, home.ErrNotFound) {
		return view{"problem.html", "Not found", trouble{"There is nothing at this address.", "It may have been renamed. Start from the house."}}, http.StatusNotFound
	}
	slog.ErrorContext(r.Context(), "gather page", "path", r.URL.Path, "err", err)
	hint := home.Hint(err)
	if hint == "" {
		hint = "Nothing is lost. Try again in a moment; the log of the program says more."
	}
	return view{"problem.html", "This page failed", trouble{"This page could not be put together.", hint}}, http.StatusInternalServerError
}
