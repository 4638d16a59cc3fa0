package door

import (
	"embed"
	"html/template"
	"net/http"
	"net/url"
	"strings"
)

//go:embed templates
var files embed.FS

var drawn = template.Must(template.ParseFS(files, "templates/*.html"))

// maxForm holds the longest name and password.
const maxForm = 8 << 10

// pages are those of the door itself.
func (d *Door) pages() *http.ServeMux {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /login", d.ask)
	mux.HandleFunc("POST /login", d.login)
	mux.HandleFunc("GET /door", d.show)
	mux.HandleFunc("POST /logout", d.logout)
	return mux
}

type asking struct {
	To, Name, Wrong string
}

func (d *Door) ask(w http.ResponseWriter, r *http.Request) {
	d.draw(w, http.StatusOK, "Sign in", "login.html", asking{To: within(r.URL.Query().Get("to"))})
}

func (d *Door) login(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	if err := r.ParseForm(); err != nil {
		d.refuse(w, http.StatusBadRequest, "Not read", "The form could not be read. Go back and try again.")
		return
	}
	form := asking{To: within(r.PostForm.Get("to")), Name: r.PostForm.Get("name")}
	if d.tooOften(w, r) {
		d.log.Warn("too many tries to sign in", "name", form.Name, "from", d.from(r))
		form.Wrong = "That was tried too often. Wait five minutes, then try again."
		d.draw(w, http.StatusTooManyRequests, "Sign in", "login.html", form)
		return
	}
	p, _ := d.person(form.Name)
	if !matches(p.Hash, r.PostForm.Get("password")) {
		d.log.Warn("a wrong name or password", "name", form.Name, "from", d.from(r))
		form.Wrong = "The name and the password do not belong together."
		d.draw(w, http.StatusUnauthorized, "Sign in", "login.html", form)
		return
	}
	if err := d.open(w, r, p); err != nil {
		d.log.Error("opening a session", "err", err)
		d.refuse(w, http.StatusInternalServerError, "The door failed", "Try again in a moment; the log of the program says more.")
		return
	}
	http.Redirect(w, r, form.To, http.StatusSeeOther)
}

func (d *Door) show(w http.ResponseWriter, r *http.Request) {
	p, ok := Who(r.Context())
	if !ok {
		d.turnAway(w, r)
		return
	}
	d.draw(w, http.StatusOK, "Signed in", "door.html", p)
}

func (d *Door) logout(w http.ResponseWriter, r *http.Request) {
	if err := d.end(w, r); err != nil {
		d.log.Error("ending a session", "err", err)
		d.refuse(w, http.StatusInternalServerError, "The door failed", "You are still signed in. Try again in a moment.")
		return
	}
	http.Redirect(w, r, "/login", http.StatusSeeOther)
}

// turnAway shows those who ask for a page the way to it.
func (d *Door) turnAway(w http.ResponseWriter, r *http.Request) {
	switch {
	case r.Method == http.MethodGet && r.URL.Path != "/metrics":
		http.Redirect(w, r, "/login?to="+url.QueryEscape(r.URL.RequestURI()), http.StatusSeeOther)
	default:
		w.Header().Set("WWW-Authenticate", `Bearer realm="weighbeam"`)
		d.refuse(w, http.StatusUnauthorized, "Sign in", "Sign in first. What you typed is still on the page before: open another window, sign in there, and send it again.")
	}
}

func (d *Door) refuse(w http.ResponseWriter, status int, what, hint string) {
	d.draw(w, status, what, "refused.html", map[string]string{"What": what, "Hint": hint})
}

func (d *Door) draw(w http.ResponseWriter, status int, title, name string, data any) {
	var body strings.Builder
	if err := drawn.ExecuteTemplate(&body, name, data); err != nil {
		d.log.Error("draw page", "page", name, "err", err)
		http.Error(w, "This page could not be drawn.", http.StatusInternalServerError)
		return
	}
	d.cfg.Frame(w, status, title, template.HTML(body.String())) // escaped by html/template above
}

// within is the page to go to: one of this host, "/" for any other. A browser
// reads a backslash as a slash and drops tabs and line ends, so those go nowhere.
func within(to string) string {
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\t\r\n") {
		return "/"
	}
	return to
}
