package dashboards

import (
	"fmt"
	"net/http"
	"strings"
	"unicode"
	"unicode/utf8"

	"weighbeam/home"
)

type setAsideView struct {
	Rows, Unclaimed []setAsideRow
	Full            bool // there may be more than are listed
}

type setAsideRow struct {
	home.SetAside
	Payload string
}

func (p *pages) setAside(r *http.Request) (view, error) {
	all, err := p.store.SetAsides(r.Context(), setAsideShown)
	if err != nil {
		return view{}, err
	}
	v := setAsideView{Full: len(all) == setAsideShown}
	for _, s := range all {
		row := setAsideRow{s, excerpt(s.Payload)}
		if s.Latest {
			v.Unclaimed = append(v.Unclaimed, row)
		} else {
			v.Rows = append(v.Rows, row)
		}
	}
	return view{"set-aside.html", "Set aside", v}, nil
}

// excerptBytes is how much of a payload a page shows.
const excerptBytes = 240

// excerpt is the beginning of a payload as text, or as hexadecimal where it is
// not text.
func excerpt(payload []byte) string {
	head, tail := payload, ""
	if len(head) > excerptBytes {
		head, tail = head[:excerptBytes], fmt.Sprintf(" … (%d bytes in all)", len(payload))
		for len(head) > 0 && !utf8.Valid(head) && utf8.Valid(payload) {
			head = head[:len(head)-1] // not through the middle of a character
		}
	}
	text := string(head)
	if !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return unicode.IsControl(r) && !unicode.IsSpace(r) }) {
		return fmt.Sprintf("bytes % x", head) + tail
	}
	return text + tail
}
