package dashboards

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"weighbeam/home"
)

// Householder changes who lives in the house and what weighs them. What it takes
// holds from the next reading on.
type Householder interface {
	SetHousehold(ctx context.Context, h home.Household) error
	// Parse reads a household file, Format writes one that Parse reads back.
	Parse(text []byte) (home.Household, error)
	Format(h home.Household) ([]byte, error)
	// Reach says what keeps a contact from being reached with that secret, or with the
	// one that is kept where that is "". SetSecret keeps one.
	Reach(ctx context.Context, c home.Contact, secret string) error
	SetSecret(ctx context.Context, contact, secret string) error
	// Channels names those that the settings have besides: no contact can be called so.
	Channels() []string
	// Vet is the veterinary practice as it is shown, of the household or of the settings.
	Vet() (name, phone string)
}

// maxHousehold is far more than a household file needs.
const maxHousehold = 1 << 20

// householdRoutes are the pages on which a household is edited.
func (p *pages) householdRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /household", p.page(p.household))
	mux.HandleFunc("GET /household.toml", p.householdFile)
	mux.HandleFunc("POST /household/import", p.householdImport)
	mux.HandleFunc("GET /household/cat", p.page(func(r *http.Request) (view, error) { return p.entry(r, &catForm{}) }))
	mux.HandleFunc("POST /household/cat", func(w http.ResponseWriter, r *http.Request) { p.settle(w, r, &catForm{}) })
	mux.HandleFunc("GET /household/contact", p.page(func(r *http.Request) (view, error) { return p.entry(r, &contactForm{}) }))
	mux.HandleFunc("POST /household/contact", func(w http.ResponseWriter, r *http.Request) { p.settle(w, r, &contactForm{}) })
	mux.HandleFunc("GET /household/ways", p.page(func(r *http.Request) (view, error) { return p.entry(r, &waysForm{}) }))
	mux.HandleFunc("POST /household/ways", func(w http.ResponseWriter, r *http.Request) { p.settle(w, r, &waysForm{}) })
	mux.HandleFunc("GET /household/scale", p.page(func(r *http.Request) (view, error) { return p.entry(r, &scaleForm{}) }))
	mux.HandleFunc("POST /household/scale", func(w http.ResponseWriter, r *http.Request) { p.settle(w, r, &scaleForm{}) })
}

type householdView struct {
	home.Household
	Vet, Tel    string   // the practice as it is shown
	Text        string   // the household file
	Wrong, Hint string   // of an import
	Open        bool     // the import is shown open
	Removed     []string // what it would take off; asked about before it does
}

func (p *pages) household(r *http.Request) (view, error) {
	h, err := p.store.Household(r.Context())
	if err != nil {
		return view{}, err
	}
	text, err := p.opts.Householder.Format(h)
	v := householdView{Household: h, Text: string(text)}
	v.Vet, v.Tel = p.opts.Householder.Vet()
	return view{"household.html", "Who lives here", v}, err
}

func (p *pages) householdFile(w http.ResponseWriter, r *http.Request) {
	h, err := p.store.Household(r.Context())
	if err != nil {
		p.draw(w, r, view{}, err)
		return
	}
	text, err := p.opts.Householder.Format(h)
	if err != nil {
		p.draw(w, r, view{}, err)
		return
	}
	w.Header().Set("Content-Type", "application/toml")
	w.Header().Set("Content-Disposition", `attachment; filename="household.toml"`)
	p.send(w, r, text)
}

// householdImport takes a household file as a whole, or shows it again with what
// is wrong.
func (p *pages) householdImport(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxHousehold)
	if err := r.ParseForm(); err != nil {
		p.draw(w, r, view{}, home.Hinted("read the form", "A household file has a few kilobytes.", "the form could not be read: %w", err))
		return
	}
	text := strings.ReplaceAll(r.PostForm.Get("text"), "\r\n", "\n")
	now, failed := p.store.Household(r.Context())
	if failed != nil {
		p.draw(w, r, view{}, failed)
		return
	}
	v := householdView{Household: now, Text: text, Open: true}
	h, err := p.opts.Householder.Parse([]byte(text))
	if err == nil && r.PostForm.Get("remove") == "" {
		v.Removed = removed(now, h)
	}
	if err == nil && v.Removed == nil {
		err = p.opts.Householder.SetHousehold(r.Context(), h)
	}
	if err == nil && v.Removed == nil {
		http.Redirect(w, r, "/household", http.StatusSeeOther)
		return
	}
	if err != nil {
		v.Wrong, v.Hint = sentence(err), home.Hint(err)
	}
	v.Vet, v.Tel = p.opts.Householder.Vet()
	p.write(w, r, http.StatusUnprocessableEntity, view{"household.html", "Who lives here", v})
}

// form is an entry of the household as a browser shows and sends it.
type form interface {
	// filled is the form of the entry with that id, or an empty one.
	filled(p *pages, h home.Household, id string) (form, bool)
	// sent reads what a browser sent.
	sent(r *http.Request)
	// into is h with the entry as the form says, or what is wrong with which field.
	into(ctx context.Context, p *pages, h home.Household) (home.Household, map[string]string)
	// without is h without the entry.
	without(h home.Household) home.Household
	template() (name, title string)
}

// entryView is a form with what is wrong with it.
type entryView struct {
	Form  form
	House home.Household
	Wrong map[string]string // by field; "" for the whole
	Hint  string
	New   bool
}

// entry shows one entry of the household, or an empty form for a new one.
func (p *pages) entry(r *http.Request, of form) (view, error) {
	h, err := p.store.Household(r.Context())
	if err != nil {
		return view{}, err
	}
	id := r.FormValue("id")
	f, ok := of.filled(p, h, id)
	if !ok {
		return view{}, home.ErrNotFound
	}
	name, title := f.template()
	return view{name, title, entryView{Form: f, House: h, New: id == ""}}, nil
}

// settle takes an entry into the household, or shows the form again as it was
// sent, with what is wrong beside each field.
func (p *pages) settle(w http.ResponseWriter, r *http.Request, f form) {
	r.Body = http.MaxBytesReader(w, r.Body, maxHousehold)
	if err := r.ParseForm(); err != nil {
		p.draw(w, r, view{}, home.Hinted("read the form", "Start again from the household page.", "the form could not be read: %w", err))
		return
	}
	h, err := p.store.Household(r.Context())
	if err != nil {
		p.draw(w, r, view{}, err)
		return
	}
	f.sent(r)
	v := entryView{Form: f, House: h, New: r.PostForm.Get("new") != ""}
	var want home.Household
	if r.PostForm.Get("remove") != "" {
		want = f.without(h)
	} else if want, v.Wrong = f.into(r.Context(), p, h); len(v.Wrong) > 0 {
		p.entryAgain(w, r, v)
		return
	}
	if err := p.keep(r.Context(), f, want); err != nil {
		v.Wrong, v.Hint = map[string]string{"": sentence(err)}, home.Hint(err)
		p.entryAgain(w, r, v)
		return
	}
	http.Redirect(w, r, "/household", http.StatusSeeOther)
}

// keep keeps want, and before it the secret that was typed: nobody is told over a
// channel that lacks it.
func (p *pages) keep(ctx context.Context, f form, want home.Household) error {
	if c, ok := f.(*contactForm); ok && c.Secret != "" {
		if _, stays := want.Contact(c.ID); stays {
			if err := p.opts.Householder.SetSecret(ctx, c.ID, c.Secret); err != nil {
				return err
			}
		}
	}
	return p.opts.Householder.SetHousehold(ctx, want)
}

func (p *pages) entryAgain(w http.ResponseWriter, r *http.Request, v entryView) {
	name, title := v.Form.template()
	p.write(w, r, http.StatusUnprocessableEntity, view{name, title, v})
}

// put is all with one in the place of the entry that has its id, or at the end.
func put[T any](all []T, one T, same func(T) bool) []T {
	out := slices.Clone(all)
	if i := slices.IndexFunc(out, same); i >= 0 {
		out[i] = one
		return out
	}
	return append(out, one)
}
