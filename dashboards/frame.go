package dashboards

import (
	"html/template"
	"log/slog"
	"net/http"
	"strings"

	"weighbeam/home"
)

// Frame writes a page of the program: headers, head, navigation, the notes of
// the house, body, and the caution at the foot. Body is trusted and must have
// been escaped, as html/template does.
type Frame = func(w http.ResponseWriter, status int, title string, body template.HTML)

// Policy is the content security policy of every page that has no script of its own: styles, images
// and forms from this host, and nothing else.
const Policy = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

type frameData struct {
	Title, Caution, Version string
	Notes                   []string
	Demo, Door, Household   bool
	Body                    template.HTML
}

var framed = template.Must(template.ParseFS(files, "templates/frame.html"))

// NewFrame returns the frame of all pages, for this room and for any other that
// is to look the same.
func NewFrame(opts Options) Frame {
	opts = opts.filled()
	return func(w http.ResponseWriter, status int, title string, body template.HTML) {
		var page strings.Builder
		err := framed.ExecuteTemplate(&page, "frame.html", frameData{title, home.Caution, opts.Version, opts.Notes(), opts.Demo, opts.Door, opts.Householder != nil, body})
		if err != nil {
			slog.Error("draw frame", "title", title, "err", err)
			http.Error(w, "This page could not be drawn.", http.StatusInternalServerError)
			return
		}
		h := w.Header()
		policy := h.Get("Content-Security-Policy") // of a page that needs more, such as script of its own
		if policy == "" {
			policy = Policy
		}
		guard(h, policy)
		h.Set("Content-Type", "text/html; charset=utf-8")
		h.Set("Cache-Control", "no-cache")
		w.WriteHeader(status)
		write(w, page.String())
	}
}

func guard(h http.Header, policy string) {
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
}

// write sends s. A reader that went away is no fault of the program.
func write(w http.ResponseWriter, s string) {
	if _, err := w.Write([]byte(s)); err != nil {
		slog.Debug("reader left", "err", err)
	}
}

// file answers with an embedded file.
func (p *pages) file(name, kind string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		content, err := files.ReadFile("templates/" + name)
		if err != nil {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", kind)
		p.send(w, r, content)
	}
}
