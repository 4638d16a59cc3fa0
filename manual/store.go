package manual

import (
	"context"
	"html/template"
	"net/http"
	"time"

	"weighbeam/home"
)

// Store is where checks go, and where a page looks to see that they are there.
// The readings of a check are appended with it, in home.HomeCheck.Readings.
type Store interface {
	Household(ctx context.Context) (home.Household, error)
	Append(ctx context.Context, b home.Batch) (home.Tally, error)
	Checks(ctx context.Context, cat string, from, to time.Time) ([]home.HomeCheck, error) // newest first
	Care(ctx context.Context, cat string, from, to time.Time) ([]home.Care, error)        // oldest first
}

// Diary is what was entered before, with what was corrected of it.
type Diary interface {
	HomeCheck(ctx context.Context, id string) (home.HomeCheck, error) // also one that was taken back
	EveryCheck(ctx context.Context, cat string) ([]home.HomeCheck, error)
	EveryCare(ctx context.Context, cat string) ([]home.Care, error)
	Corrections(ctx context.Context, cat string) ([]home.Correction, error)
	Correct(ctx context.Context, c home.Correction, with home.Batch) error // home.ErrCorrected, wrapped
	Photo(ctx context.Context, id string) (home.PhotoFile, error)          // home.ErrNotFound, wrapped
}

// Options are the settings of the form.
type Options struct {
	Now     func() time.Time            // nil: time.Now
	Zone    *time.Location              // of the times a person types; nil: time.Local
	Units   string                      // what body weight is typed in at first: "kg" (also when empty) or "lb"
	Vet     func() (name, phone string) // of the veterinary practice, for the go-now page; nil: not known
	BaseURL string                      // where readers see the pages, if a proxy stands before them; its origin may post
	Answers Answers                     // takes answers to findings; nil: there is no such page
	Diary   Diary                       // shows what was entered and takes corrections; nil: there are no such pages
	Weighed func(cat string) time.Time  // when a scale last met it, zero for never; nil: not known
	Words   Words                       // in which language it speaks
	Namer   Namer                       // takes whose a visit was; nil: there is no such page
	Traces  bool                        // visits have a picture of their load, below "/sources/SOURCE/visits/START"
	// Frame writes a whole page around a body that is already escaped. Nil: a
	// bare page, for tests.
	Frame func(w http.ResponseWriter, status int, title string, body template.HTML)
}

func (o Options) filled() Options {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Zone == nil {
		o.Zone = time.Local
	}
	if o.Vet == nil {
		o.Vet = func() (name, phone string) { return "", "" }
	}
	if o.Frame == nil {
		o.Frame = bare
	}
	return o
}

func bare(w http.ResponseWriter, status int, title string, body template.HTML) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	page := template.Must(template.New("").Parse(`<!doctype html><html lang="en"><title>{{.T}}</title><main>{{.B}}</main></html>`))
	_ = page.Execute(w, struct { // a reader that left is no fault of the program
		T string
		B template.HTML
	}{title, body})
}
