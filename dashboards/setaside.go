package dashboards

import (
	"fmt"
	"net/http"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"weighbeam/home"
)

type setAsideView struct {
	Rows, Unclaimed []setAsideRow
	Full            bool   // there may be more than are listed
	Retry           bool   // it can be tried again here
	Listen          bool   // there is a page of what arrives
	Wrong           string // of a claim that was refused
	WrongAt         int    // number of its form, where its topic is still listed
	Unclear         []unclearRow
	Strangers       *strangersView
	Outcome         string // of the claim or retry that led here
}

type setAsideRow struct {
	home.SetAside
	Payload string
	Claim   *claimForm // nil where it cannot be claimed
	Dismiss string     // what it belongs to, with the newest of that; "" for none
	Seen    string     // up to when it came
	Rows    bool       // it is a file
}

func (p *pages) setAside(r *http.Request) (view, error) { return p.asideView(r, nil) }

// asideView lists what was set aside; form, where not nil, stands with its topic
// as it was sent.
func (p *pages) asideView(r *http.Request, form *claimForm) (view, error) {
	all, err := p.store.SetAsides(r.Context(), setAsideShown)
	if err != nil {
		return view{}, err
	}
	h, err := p.store.Household(r.Context())
	if err != nil {
		return view{}, err
	}
	v := setAsideView{Full: len(all) == setAsideShown, Retry: p.opts.Claimer != nil && len(all) > 0, Listen: p.opts.Hearing != nil, Outcome: outcome(r, h)}
	if v.Unclear, err = p.unclear(r.Context(), h, p.opts.Now()); err != nil {
		return view{}, err
	}
	sources, err := p.store.Sources(r.Context())
	if err != nil {
		return view{}, err
	}
	if v.Strangers, err = p.strangers(r.Context(), h, sources, p.opts.Now()); err != nil {
		return view{}, err
	}
	offered, forms := map[string]bool{}, 0
	dismissable := map[string]bool{}
	for _, s := range all {
		row := setAsideRow{SetAside: s, Payload: excerpt(s.Payload), Rows: s.Way == home.Imported, Seen: s.Arrived.Format(time.RFC3339Nano)}
		if of := s.Of(); p.opts.Claimer != nil && !dismissable[of] {
			row.Dismiss, dismissable[of] = of, true
		}
		if !offered[s.Topic] { // with the newest of its topic
			row.Claim = p.offer(h, s, forms+1)
		}
		if row.Claim != nil {
			offered[s.Topic], forms = true, forms+1
		}
		if row.Claim != nil && form != nil && form.Topic == s.Topic {
			form.Number = row.Claim.Number
			form.choices(h, row.Claim.Ways)
			row.Claim, form = form, nil
			v.Wrong, v.WrongAt = row.Claim.Wrong, row.Claim.Number
		}
		if s.Latest {
			v.Unclaimed = append(v.Unclaimed, row)
		} else {
			v.Rows = append(v.Rows, row)
		}
	}
	if form != nil { // somebody else was quicker
		v.Wrong = form.Wrong
	}
	return view{"set-aside.html", "Set aside", v}, nil
}

// excerptBytes is how much of a payload a page shows.
const excerptBytes = 240

// excerpt is the beginning of a payload as text, or as hexadecimal where it is
// not text.
func excerpt(payload []byte) string { return excerptOf(payload, len(payload)) }

// excerptOf is the excerpt of a payload of which only the head is here.
func excerptOf(head []byte, all int) string {
	tail := ""
	if all > excerptBytes {
		head, tail = head[:min(len(head), excerptBytes)], fmt.Sprintf(" … (%d bytes in all)", all)
		for cut := 1; cut < utf8.UTFMax && cut < len(head) && !utf8.Valid(head); cut++ {
			if utf8.Valid(head[:len(head)-cut]) {
				head = head[:len(head)-cut] // not through the middle of a character
			}
		}
	}
	text := string(head)
	if !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return unicode.IsControl(r) && !unicode.IsSpace(r) }) {
		return fmt.Sprintf("bytes % x", head) + tail
	}
	return text + tail
}
