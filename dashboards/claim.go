package dashboards

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// Claimer changes what the page of set-aside payloads asks it to.
type Claimer interface {
	// Claimed reports whether a scale claims the topic, or none can.
	Claimed(topic string) bool
	// Suggest returns the ways in which a payload could be read, the likelier first.
	Suggest(payload []byte) []string
	// Claim gives the topic of s to s, an existing scale or a new one, and tries again
	// what was set aside on it. An error says what is wrong and changes nothing.
	Claim(ctx context.Context, s home.Scale, move bool) (home.Retry, error)
	// Retry tries again what was set aside on topics that match filter.
	Retry(ctx context.Context, filter string) (home.Retry, error)
	// Dismiss ends the wait of what was set aside of a topic, or of an imported file,
	// where it did not come again after seen, and says of how much.
	Dismiss(ctx context.Context, of string, seen time.Time) (int64, error)
}

// maxClaim is far more than a claim needs.
const maxClaim = 64 << 10

// claimForm is the form by which a topic is given to a scale, as it was sent or as
// it is offered.
type claimForm struct {
	Topic, Scale, ID, Kind, Payload, Path, Unit, Sends string
	Move, Open                                         bool
	Wrong, Hint                                        string

	Number         int // of the form on its page
	Ways           []string
	Scales         []home.Scale
	Kinds          []home.Kind
	Units, Spoken  []string
	NewScale, Else string
}

// The choices that stand for a field of their own.
const (
	newScale = "+"
	elseWay  = "+"
)

// offer is the form for what waits on a topic.
func (p *pages) offer(h home.Household, s home.SetAside, number int) *claimForm {
	onTopic := s.Way == "mqtt" || s.Way == "broker"
	if p.opts.Claimer == nil || !onTopic || p.opts.Claimer.Claimed(s.Topic) {
		return nil
	}
	f := &claimForm{Topic: s.Topic, Number: number, Sends: string(home.Load), Unit: "kg"}
	f.choices(h, p.opts.Claimer.Suggest(s.Payload))
	f.Payload = elseWay
	if len(f.Ways) > 0 {
		f.Payload = f.Ways[0]
	}
	f.Scale = newScale
	for _, scale := range h.Scales {
		if scale.Topic == "" {
			f.Scale = scale.ID
			break
		}
	}
	return f
}

func (f *claimForm) choices(h home.Household, ways []string) {
	f.Ways, f.Scales, f.NewScale, f.Else = ways, h.Scales, newScale, elseWay
	f.Kinds = []home.Kind{home.LitterBox, home.Feeder, home.Water, home.Floor}
	f.Units = []string{"kg", "g", "[lb_av]", "[oz_av]"}
}

// sent is the form as a browser sent it.
func sentClaim(r *http.Request) *claimForm {
	v := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
	return &claimForm{Topic: r.PostForm.Get("topic"), Scale: v("scale"), ID: v("id"), Kind: v("kind"), Payload: v("payload"), Path: v("path"),
		Unit: v("unit"), Sends: v("sends"), Move: v("move") != "", Open: true}
}

// scale is what the form asks for.
func (f *claimForm) scale() home.Scale {
	s := home.Scale{ID: f.Scale, Topic: f.Topic, Payload: f.Payload, Unit: f.Unit, Sends: home.Quantity(f.Sends)}
	if f.Scale == newScale {
		s.ID, s.Kind = f.ID, home.Kind(f.Kind)
	}
	if f.Payload == elseWay {
		s.Payload = f.Path
	}
	return s
}

// claim gives a topic to a scale, or shows the form again with what is wrong.
func (p *pages) claim(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxClaim)
	if err := r.ParseForm(); err != nil {
		p.draw(w, r, view{}, home.Hinted("claim", "Start again from the page of what was set aside.", "the form could not be read: %w", err))
		return
	}
	f := sentClaim(r)
	if f.Scale == "" || f.Scale == newScale && f.ID == "" {
		p.claimAgain(w, r, f, home.Hinted("", "Small letters, digits, '.', '-' and '_'.", "Give the new scale a short name"))
		return
	}
	done, err := p.opts.Claimer.Claim(r.Context(), f.scale(), f.Move)
	if err != nil {
		p.claimAgain(w, r, f, err)
		return
	}
	retried(w, r, f.scale().ID, done)
}

// claimAgain shows the page with the form as it was sent.
func (p *pages) claimAgain(w http.ResponseWriter, r *http.Request, f *claimForm, err error) {
	slog.InfoContext(r.Context(), "a claim was refused", "topic", f.Topic, "err", err)
	f.Wrong, f.Hint = sentence(err), home.Hint(err)
	v, failed := p.asideView(r, f)
	if failed != nil {
		p.draw(w, r, view{}, failed)
		return
	}
	p.write(w, r, http.StatusUnprocessableEntity, v)
}

// sentence is an error as a page says it.
func sentence(err error) string {
	var hinted *home.Error
	if errors.As(err, &hinted) && err == error(hinted) {
		err = hinted.Err // what was being done is plain from the page
	}
	text := err.Error()
	return strings.ToUpper(text[:1]) + strings.TrimSuffix(text[1:], ".") + "."
}

// retry tries everything again.
func (p *pages) retry(w http.ResponseWriter, r *http.Request) {
	done, err := p.opts.Claimer.Retry(r.Context(), "#")
	if err != nil {
		p.draw(w, r, view{}, err)
		return
	}
	retried(w, r, "", done)
}

// dismiss lets go of what came on a topic, or of the rows of a file, up to what the page
// showed.
func (p *pages) dismiss(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxClaim)
	seen, err := time.Parse(time.RFC3339Nano, r.FormValue("seen"))
	if err != nil {
		p.draw(w, r, view{}, home.Hinted("dismiss", "Start again from the page of what was set aside.", "the form could not be read: %w", err))
		return
	}
	n, err := p.opts.Claimer.Dismiss(r.Context(), r.FormValue("of"), seen)
	if err != nil {
		p.draw(w, r, view{}, err)
		return
	}
	http.Redirect(w, r, fmt.Sprintf("/set-aside?dismissed=%d", n), http.StatusSeeOther)
}

// retried goes back to the list, which says what came of it.
func retried(w http.ResponseWriter, r *http.Request, scale string, done home.Retry) {
	to := fmt.Sprintf("/set-aside?tried=%d&read=%d", done.Tried, done.Read)
	if scale != "" {
		to += "&scale=" + url.QueryEscape(scale)
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// outcome says what the address says came of a claim, a retry or a dismissal.
func outcome(r *http.Request, h home.Household) string {
	q := r.URL.Query()
	if n, err := strconv.ParseUint(q.Get("dismissed"), 10, 32); err == nil {
		return fmt.Sprintf("%d dismissed: kept in the store, and listed here no more.", n)
	}
	var tried, read int
	if _, err := fmt.Sscan(q.Get("tried")+" "+q.Get("read"), &tried, &read); err != nil || tried < 0 || read < 0 || read > tried {
		return ""
	}
	words := plural(tried, "message") + " tried again: " + fmt.Sprintf("%d read, %d still set aside.", read, tried-read)
	if i := slices.IndexFunc(h.Scales, func(s home.Scale) bool { return s.ID == q.Get("scale") }); i >= 0 {
		words = "The topic " + h.Scales[i].Topic + " belongs to " + h.Scales[i].ID + " now. " + words
	}
	return words
}
