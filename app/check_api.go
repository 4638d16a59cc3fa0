package app

import (
	_ "embed"
	"net/http"

	"weighbeam/app/door"
	"weighbeam/home"
	"weighbeam/manual"
)

// descriptionPath is where programs find how to talk to this one.
const descriptionPath = "/api/v1/openapi.json"

// Description is what the program answers programs, as OpenAPI 3.1.
//
//go:embed openapi.json
var Description []byte

func serveDescription(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("X-Content-Type-Options", "nosniff")
	_, _ = w.Write(Description) // a reader that left is no fault of the program
}

// checkAPI takes home checks from who may use the form, and with the token of a
// device that may send for the source "hand".
func (a *App) checkAPI(form manual.Options) http.Handler {
	take := manual.CheckAPI(a.store, form)
	return a.keeperOr(take, func(*http.Request) string { return home.Hand })
}

// scalesAPI lets a scale be calibrated by the same, with the token of a device that
// may send for it.
func (a *App) scalesAPI() http.Handler {
	return a.keeperOr(calibrateAPI(a.bench()), func(r *http.Request) string { return r.PathValue("source") })
}

// keeperOr lets to next who may change things on the pages, and who may post for a
// source.
func (a *App) keeperOr(next http.Handler, source func(*http.Request) string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if p, ok := door.Who(r.Context()); ok && p.Role == door.Keeper {
			next.ServeHTTP(w, r)
			return
		}
		a.api.Guard(source(r), next).ServeHTTP(w, r)
	})
}
