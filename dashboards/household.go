package dashboards

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"strings"

	"weighbeam/home"
)

// Householder changes who lives in the house and what weighs them. What it takes
// holds from the next reading on.
type Householder interface {
	//
	// SetHousehold wants the mark of the household that h was made from, and the secrets
	// that were typed for contacts. Where that is no longer the household it changes
	// nothing and returns home.ErrChanged, wrapped.
	SetHousehold(ctx context.Context, was string, h home.Household, typed map[string]string) error
	// Parse reads a household file, Format writes one that Parse reads back.
	Parse(text []byte) (home.Household, error)
	Format(h home.Household) ([]byte, error)
	// Reach says what keeps a contact from being reached with that secret, or with the
	// one that is kept where that is "".
	Reach(ctx context.Context, c home.Contact, secret string) error
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
	Was         string   // the mark of the household that the text was made from
	Changed     bool     // it was changed while somebody looked at it
}

func (p *pages) household(r *http.Request) (view, error) {
	h, err := p.store.Household(r.Context())
	if err != nil {
		return view{}, err
	}
	text, err := p.opts.Householder.Format(h)
	v := householdView{Household: h, Text: string(text), Was: h.Mark()}
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
	v := householdView{Household: now, Text: text, Was: r.PostForm.Get("was"), Open: true}
	h, err := p.opts.Householder.Parse([]byte(text))
	if err == nil && r.PostForm.Get("remove") == "" {
		v.Removed = removed(now, h)
	}
	switch {
	case err != nil:
	case v.Was != now.Mark():
		err = home.ErrChanged
	case v.Removed == nil:
		err = p.opts.Householder.SetHousehold(r.Context(), v.Was, h, nil)
	}
	status := http.StatusUnprocessableEntity
	switch {
	case errors.Is(err, home.ErrChanged):
		status, v.Changed = http.StatusConflict, true
		if v.Household, err = p.store.Household(r.Context()); err != nil {
			p.draw(w, r, view{}, err)
			return
		}
		v.Was = v.Household.Mark()
	case err != nil:
		v.Wrong, v.Hint = sentence(err), home.Hint(err)
	case v.Removed == nil:
		http.Redirect(w, r, "/household", http.StatusSeeOther)
		return
	}
	v.Vet, v.Tel = p.opts.Householder.Vet()
	p.write(w, r, status, view{"household.html", "Who lives here", v})
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
	// only is what h says of the entry, or of all of its kind where it is a new one.
	only(h home.Household) home.Household
	template() (name, title string)
}

// entryView is a form with what is wrong with it.
type entryView struct {
	Form    form
	House   home.Household
	Was     string            // the mark of the household that the form was made from
	Wrong   map[string]string // by field; "" for the whole
	Hint    string
	New     bool
	Changed bool   // the household was changed while somebody looked at the form
	Now     string // what it says then of the entry
	Gone    bool   // somebody else took the entry off
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
	return view{name, title, entryView{Form: f, House: h, Was: h.Mark(), New: id == ""}}, nil
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
	v := entryView{Form: f, House: h, Was: r.PostForm.Get("was"), New: r.PostForm.Get("new") != ""}
	var want home.Household
	if r.PostForm.Get("remove") != "" {
		want = f.without(h)
	} else if want, v.Wrong = f.into(r.Context(), p, h); len(v.Wrong) > 0 && v.Was == h.Mark() {
		p.entryAgain(w, r, http.StatusUnprocessableEntity, v)
		return
	}
	switch err := p.opts.Householder.SetHousehold(r.Context(), v.Was, want, typed(f)); {
	case err == nil:
		http.Redirect(w, r, "/household", http.StatusSeeOther)
	case errors.Is(err, home.ErrChanged):
		p.changedMeanwhile(w, r, v)
	default:
		v.Wrong, v.Hint = map[string]string{"": sentence(err)}, home.Hint(err)
		p.entryAgain(w, r, http.StatusUnprocessableEntity, v)
	}
}

// typed are the secrets that a form brings along: nobody is told over a channel that
// lacks one.
func typed(f form) map[string]string {
	if c, ok := f.(*contactForm); ok && c.Secret != "" {
		return map[string]string{c.ID: c.Secret}
	}
	return nil
}

// changedMeanwhile shows what was typed again, with what somebody else made of the
// household meanwhile: sent once more, it goes on from that.
func (p *pages) changedMeanwhile(w http.ResponseWriter, r *http.Request, v entryView) {
	h, err := p.store.Household(r.Context())
	if err == nil {
		var text []byte
		text, err = p.opts.Householder.Format(v.Form.only(h))
		v.Now = strings.TrimSpace(string(text))
	}
	if err != nil {
		p.draw(w, r, view{}, err)
		return
	}
	f, there := v.Form.filled(p, h, r.PostForm.Get("id"))
	v.Gone = !there && !v.New
	switch remove := r.PostForm.Get("remove") != ""; {
	case remove && v.Gone:
		http.Redirect(w, r, "/household", http.StatusSeeOther)
		return
	case remove:
		v.Form = f
	}
	v.House, v.Was, v.Changed = h, h.Mark(), true
	p.entryAgain(w, r, http.StatusConflict, v)
}

func (p *pages) entryAgain(w http.ResponseWriter, r *http.Request, status int, v entryView) {
	name, title := v.Form.template()
	p.write(w, r, status, view{name, title, v})
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
