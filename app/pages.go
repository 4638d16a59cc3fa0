package app

import (
	"net/http"
	"time"

	"github.com/prometheus/client_golang/prometheus/promhttp"

	"weighbeam/dashboards"
	"weighbeam/ingest"
	"weighbeam/ingest/httpapi"
	"weighbeam/ingest/mqtt"
	"weighbeam/ingest/payload"
	"weighbeam/manual"
)

// look is how the pages look, and the charts that go with notices.
func (a *App) look() dashboards.Options {
	cfg := a.now()
	look := dashboards.Options{
		Now: a.opt.Now, Zone: cfg.Zone.location(), Units: cfg.Units.text, Notes: a.notes, Demo: a.opt.Demo, Version: a.opt.Version,
		Naming: true, Reactions: a.store.Reactions, Steps: a.store.NoticeSteps, Claimer: claimer{a}, Householder: householder{a}, Bench: a.bench(), Origin: origin(a.cfg.Link),
		Door:    len(a.cfg.Door.Person) > 0,
		Hearing: a.hearing, ValidFilter: ingest.ValidFilter,
	}
	if a.cfg.Broker != nil {
		look.Broker = a.cfg.Broker.Listen.String()
	}
	return look
}

// notes are the sentences at the top of every page.
func (a *App) notes() []string {
	var broker mqtt.Health
	if session := a.session.Load(); session != nil {
		broker = session.Health()
	}
	all := unheard(a.ingestStage(), broker, time.Now())
	if damage := a.store.Damage(); damage != nil {
		all = append(all, storeStage(nil, damage).Problem)
	}
	if a.watcher != nil && !a.watcher.CaughtUp() {
		all = append(all, "The program has just started and is reading what is stored: figures may be missing here, and findings, until it is through.")
	}
	return all
}

// unheard says what keeps readings out: that nothing is found means nothing then. A
// connection that is made anew within a minute is no news.
func unheard(ingest Stage, broker mqtt.Health, now time.Time) []string {
	const so = " Until then this page knows of nothing new."
	var all []string
	if ingest.Problem != "" {
		all = append(all, ingest.Problem+" The command 'weighbeam verify' says what is wrong."+so)
	}
	if !broker.Connected && !broker.Since.IsZero() && now.Sub(broker.Since) > silentAfter {
		all = append(all, brokerStage(broker).Problem+so)
	}
	return all
}

// claimer lets the pages claim topics.
type claimer struct{ *App }

func (claimer) Suggest(b []byte) []string { return payload.Suggest(b) }

func (c claimer) Claimed(topic string) bool {
	return posted(topic) || len(c.router.Claimants(topic)) > 0
}

func (a *App) bench() StoreBench { return StoreBench{Store: a.store, Now: a.opt.Now} }

// serveAnew lets the pages be as the household says now.
func (a *App) serveAnew() {
	if a.registry == nil {
		return // they do not serve yet
	}
	var h http.Handler = a.handler(a.words)
	a.serving.Store(&h)
}

// ServeHTTP serves the pages as they are now.
func (a *App) ServeHTTP(w http.ResponseWriter, r *http.Request) { (*a.serving.Load()).ServeHTTP(w, r) }

// handler is everything that is served over HTTP.
func (a *App) handler(words manual.Words) http.Handler {
	look := a.look()
	form := manual.Options{
		Now: a.opt.Now, Zone: look.Zone, Units: look.Units, BaseURL: a.cfg.Link, Frame: dashboards.NewFrame(look),
		Vet: a.now().vet, Words: words, Answers: a.answers, Namer: a.store, Traces: true, Diary: a.store,
		Weighed: func(cat string) time.Time { return a.watcher.Outlook(cat).LastKg },
	}
	check := manual.New(a.store, form)
	told := a.desk(look.Zone)
	mux := http.NewServeMux()
	mux.Handle("/", dashboards.New(seenStore{a.store, a.watcher}, a.watcher, look))
	for _, pattern := range []string{"/check", "/check/", "/answer", "/answer/", "/whose/"} {
		mux.Handle(pattern, check)
	}
	asking := a.asking()
	for _, pattern := range []string{"/notices/push", "/notices/push/", "/notices/push.js", "/notices/worker.js"} {
		mux.Handle(pattern, asking)
	}
	for _, pattern := range []string{"/notices", "/notices/try"} {
		mux.Handle(pattern, told)
	}
	mux.Handle(httpapi.Path, a.api)
	mux.Handle(manual.CheckPath, a.checkAPI(form))
	mux.HandleFunc("GET "+descriptionPath, serveDescription)
	mux.Handle(scalesPath+"{source}/", a.scalesAPI())
	mux.Handle("GET /metrics", promhttp.HandlerFor(a.registry, promhttp.HandlerOpts{}))
	mux.HandleFunc("GET /healthz", a.serveHealth)
	for pattern, h := range a.opt.Handle {
		mux.Handle(pattern, h)
	}
	return mux
}
