// Package desk is the page of the channels: who is told what, when each channel
// last took a message and when it last did not, and a button that tries it.
//
// It guarantees that the page works without script, that a trial is asked for
// only from the page itself, and that nothing secret of a channel is shown.
package desk

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
)

//go:embed templates
var files embed.FS

// Way is a channel, and what it goes by in words.
type Way struct {
	notify.Channel
	Kind    string
	Browser bool // to browsers that ask on this page to be told
	Ours    bool // a contact of the household, which is changed on the pages
}

// Options are what the page needs. All but Trusted must
// be set, Browsers and PushKey only where a channel is to browsers.
type Options struct {
	Now      func() time.Time
	Zone     *time.Location // whose hours are shown; nil: UTC
	Ways     func() []Way
	Health   func() notify.Health
	Try      func(ctx context.Context, channel string) error // as [notify.Sender.Try]
	Frame    func(w http.ResponseWriter, status int, title string, body template.HTML)
	Browsers func(channel string) int // how many ask to be told over a channel to browsers
	PushKey  string                   // by which push services know this house
	Policy   string                   // content security policy, with script from this host
	Trusted  string                   // origin of the pages behind a proxy, as "http://cats.lan"; "": none
}

type room struct {
	opts Options
}

var drawn = template.Must(template.ParseFS(files, "templates/*.html"))

// New returns the page. It answers "/notices" and "/notices/try".
func New(opts Options) http.Handler {
	if opts.Zone == nil {
		opts.Zone = time.UTC
	}
	d := &room{opts: opts}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /notices", d.page)
	mux.HandleFunc("POST /notices/try", d.try)
	guard := http.NewCrossOriginProtection()
	if opts.Trusted != "" {
		if err := guard.AddTrustedOrigin(opts.Trusted); err != nil {
			slog.Warn("the address of the pages is no origin; trials through a proxy may be refused", "address", opts.Trusted, "err", err)
		}
	}
	return guard.Handler(mux)
}

// row is a channel as the page shows it.
type row struct {
	Name, Kind, Words string
	Took, Failed      moment
	Why               string // of the last failure, where nothing was taken since
	Waiting           int
	Browser           bool   // to browsers
	Browsers          string // how many, in words
	Idle              bool   // it reaches nobody now
	Ours              bool   // changed on the pages
	Tried             string // how the trial just asked for ended
}

// moment is a time in words, with the time itself for machines.
type moment struct{ Words, Stamp string }

func (d *room) moment(t time.Time) moment {
	if t.IsZero() {
		return moment{Words: "never"}
	}
	return moment{t.In(d.opts.Zone).Format("2 Jan 2006, 15:04"), t.UTC().Format(time.RFC3339)}
}

type deskView struct {
	Rows []row
	Lost string // why notices wait altogether
	Key  string
	None bool // no channel is set
}

// page lists the channels. After a trial it says how that ended: the channel
// that was tried stands in the address.
func (d *room) page(w http.ResponseWriter, r *http.Request) {
	health := d.opts.Health()
	byName := map[string]notify.ChannelHealth{}
	for _, c := range health.Channels {
		byName[c.Channel] = c
	}
	v := deskView{Key: d.opts.PushKey, None: true}
	if health.Store != "" {
		v.Lost = "Notices wait because the store cannot be used."
	}
	for _, way := range d.opts.Ways() {
		one := d.row(way, byName[way.Name])
		if r.FormValue("tried") == way.Name {
			one.Tried = ended(one)
		}
		v.Rows = append(v.Rows, one)
		v.None = v.None && one.Idle
	}
	w.Header().Set("Content-Security-Policy", d.opts.Policy)
	d.show(w, http.StatusOK, "desk.html", "Who is told", v)
}

func (d *room) row(way Way, c notify.ChannelHealth) row {
	one := row{Name: way.Name, Kind: way.Kind, Words: way.Words(), Browser: way.Browser, Ours: way.Ours, Waiting: c.Waiting, Took: d.moment(c.Took), Failed: d.moment(c.Failed)}
	if c.Failed.After(c.Took) {
		one.Why = c.Why
	}
	if way.Browser {
		n := d.opts.Browsers(way.Name)
		one.Idle, one.Browsers = n == 0, fmt.Sprintf("Browsers that are told: %d.", n)
	}
	return one
}

func ended(one row) string {
	if one.Why != "" {
		return one.Name + " did not take the trial: " + one.Why + "."
	}
	return one.Name + " took the trial. Look whether it arrived."
}

// try tries a channel and goes back to the page, so that a reload tries nothing.
func (d *room) try(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	name := r.FormValue("channel")
	err := d.opts.Try(r.Context(), name)
	var f *notify.Failure
	switch {
	case errors.Is(err, home.ErrNotFound):
		d.show(w, http.StatusNotFound, "lost.html", "Not found", nil)
	case err != nil && !errors.As(err, &f):
		slog.ErrorContext(r.Context(), "try a channel", "channel", name, "err", err)
		d.show(w, http.StatusInternalServerError, "lost.html", "Not tried", nil)
	default:
		http.Redirect(w, r, "/notices?tried="+name+"#way-"+name, http.StatusSeeOther)
	}
}

func (d *room) show(w http.ResponseWriter, status int, name, title string, data any) {
	var body strings.Builder
	if err := drawn.ExecuteTemplate(&body, name, data); err != nil {
		slog.Error("draw page", "page", name, "err", err)
		http.Error(w, "This page could not be drawn.", http.StatusInternalServerError)
		return
	}
	d.opts.Frame(w, status, title, template.HTML(body.String())) // escaped by html/template above
}
