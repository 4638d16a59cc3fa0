package app

import (
	"net/http"

	"github.com/prometheus/client_golang/prometheus/promhttp"

	"weighbeam/dashboards"
	"weighbeam/manual"
)

// handler is everything that is served over HTTP.
func (a *App) handler() http.Handler {
	look := dashboards.Options{
		Now: a.opt.Now, Zone: a.cfg.Zone.location(), Units: a.cfg.Units.text, Notes: a.opt.Notes, Demo: a.opt.Demo, Version: a.opt.Version,
	}
	if a.cfg.Broker != nil {
		look.Broker = a.cfg.Broker.Listen.String()
	}
	check := manual.New(a.store, manual.Options{
		Now: a.opt.Now, Zone: look.Zone, Units: look.Units, BaseURL: a.cfg.Link, Frame: dashboards.NewFrame(look),
	})
	mux := http.NewServeMux()
	mux.Handle("/", dashboards.New(a.store, a.watcher, look))
	mux.Handle("/check", check)
	mux.Handle("/check/", check)
	mux.Handle("GET /metrics", promhttp.HandlerFor(a.metrics(), promhttp.HandlerOpts{}))
	mux.HandleFunc("GET /healthz", a.serveHealth)
	for pattern, h := range a.opt.Handle {
		mux.Handle(pattern, h)
	}
	return mux
}
