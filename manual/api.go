package manual

import (
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"mime"
	"net/http"
	"strings"

	"weighbeam/home"
)

// CheckPath is where programs post a home check as JSON.
const CheckPath = "/api/v1/checks"

// mostBody is how long a check may be without pictures, bytes.
const mostBody = 1 << 20

// CheckAnswer is what a program is told about a check that was stored.
type CheckAnswer struct {
	ID        string   `json:"id"`
	Duplicate bool     `json:"duplicate"` // it was stored before
	RedFlags  []string `json:"red_flags,omitempty"`
	Now       string   `json:"now,omitempty"` // what to do at once, where there are red flags
}

// CheckProblem is an error of RFC 9457 with a pointer (RFC 6901) into the body for
// each thing that is wrong with it, and what to do first where there are red flags.
type CheckProblem struct {
	Title  string    `json:"title"`
	Status int       `json:"status"`
	Detail string    `json:"detail"`
	Errors []WrongAt `json:"errors,omitempty"`
	Now    string    `json:"now,omitempty"`
}

// WrongAt is one thing that is wrong with a check, and where.
type WrongAt struct {
	Pointer string `json:"pointer"` // as in RFC 9457: "#/breaths/state"
	Detail  string `json:"detail"`
}

// CheckAPI takes home checks from programs, through the same reading as the form:
// what the form would refuse is refused in the same words. As there, a red flag is
// stored and answered whatever else is wrong. It does not ask who sends; the caller
// stands before it.
func CheckAPI(store Store, opts Options) http.Handler {
	return http.NewCrossOriginProtection().Handler(http.HandlerFunc(newRoomOf(store, opts).take))
}

func (m *room) take(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodPost {
		w.Header().Set("Allow", http.MethodPost)
		m.decline(w, CheckProblem{Status: http.StatusMethodNotAllowed, Detail: "Only POST is answered here."})
		return
	}
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		m.decline(w, CheckProblem{Status: http.StatusUnsupportedMediaType, Detail: "Send JSON, with the header Content-Type: application/json."})
		return
	}
	text, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostBody))
	if err != nil {
		m.decline(w, CheckProblem{Status: http.StatusRequestEntityTooLarge, Detail: "Send a whole check of at most a mebibyte."})
		return
	}
	m.takeText(w, r, text)
}

// takeText stores what text says, or says why not.
func (m *room) takeText(w http.ResponseWriter, r *http.Request, text []byte) {
	body, wrong, whole := readBody(text, r.Header.Get("Idempotency-Key"))
	h, err := m.store.Household(r.Context())
	f := read(body.typed(m.opts.Now(), m.opts.Zone), h, m.opts.Now(), m.opts.Zone)
	if err != nil {
		m.unkept(w, r, err, f.check.RedFlags)
		return
	}
	if whole || len(body.RedFlags) > 0 {
		if len(wrong) > 0 {
			delete(f.wrong, "form") // not nothing: only nothing of use
		}
		wrong = append(wrong, m.pointed(f, h)...)
	}
	if len(f.check.RedFlags) > 0 && f.wrong["cat"] == "" {
		f.keepAsCame(text, len(wrong) > 0)
		wrong = nil
	}
	if len(wrong) > 0 {
		m.refuseSent(w, wrong, f.check.RedFlags)
		return
	}
	m.keepSent(w, r, f)
}

// keepAsCame writes into the note what else was sent and could not be read.
func (f *form) keepAsCame(text []byte, unread bool) {
	if unread {
		f.check.Note = strings.TrimSpace(cut(f.check.Note+"\n"+string(text), home.MaxNote))
	}
}

// refuseSent says what is wrong with a check that was not stored.
func (m *room) refuseSent(w http.ResponseWriter, wrong []WrongAt, flags []home.RedFlag) {
	for i := range wrong {
		wrong[i].Pointer = "#" + wrong[i].Pointer
	}
	m.decline(w, CheckProblem{Status: http.StatusUnprocessableEntity, Detail: "Nothing was stored. Mend what is wrong and send it again.",
		Errors: wrong, Now: m.nowWords(flags)})
}

// keepSent stores a check and says so after it is on disk.
func (m *room) keepSent(w http.ResponseWriter, r *http.Request, f *form) {
	t, err := m.append(r.Context(), f)
	if err != nil {
		m.unkept(w, r, err, f.check.RedFlags)
		return
	}
	a := CheckAnswer{ID: f.check.ID, Duplicate: t.Duplicate > 0 && t.Stored == 0, Now: m.nowWords(f.check.RedFlags)}
	for _, flag := range f.check.RedFlags {
		a.RedFlags = append(a.RedFlags, string(flag))
	}
	status := http.StatusCreated
	if a.Duplicate {
		status = http.StatusOK
	}
	m.write(w, status, "application/json", a)
}

// GoNow is what red flags ask of a person, for where there is no page to show it.
func GoNow(flags []home.RedFlag, opts Options) string { return newRoomOf(nil, opts).nowWords(flags) }

// nowWords is what red flags ask of a person, "" where there are none.
func (m *room) nowWords(flags []home.RedFlag) string {
	if len(flags) == 0 {
		return ""
	}
	words := []string{m.words.say("now.title") + ".", m.words.say("now.saw", "flags", m.nowView(home.Cat{}, flags, notSent).Named), m.words.say("now.wait")}
	if practice, phone := m.opts.Vet(); phone != "" {
		words = append(words, strings.TrimSpace(practice+" "+phone)+".")
	}
	return strings.Join(words, " ")
}

func (m *room) unkept(w http.ResponseWriter, r *http.Request, err error, flags []home.RedFlag) {
	slog.ErrorContext(r.Context(), "store home check", "err", err)
	w.Header().Set("Retry-After", "5")
	m.decline(w, CheckProblem{Status: http.StatusServiceUnavailable, Detail: "It could not be stored. Send it again. " + m.hint(err), Now: m.nowWords(flags)})
}

func (m *room) decline(w http.ResponseWriter, p CheckProblem) {
	p.Title = http.StatusText(p.Status)
	m.write(w, p.Status, "application/problem+json", p)
}

func (m *room) write(w http.ResponseWriter, status int, kind string, body any) {
	text, err := json.Marshal(body)
	if err != nil {
		panic("manual: " + err.Error()) // the bodies above always marshal
	}
	guarded(w.Header(), kind)
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(append(text, '\n')) // a reader that left is no fault of the program
}

// pointed says what is wrong with f, by where it stands in the body, and what the
// form would have offered there.
func (m *room) pointed(f *form, h home.Household) []WrongAt {
	var all []WrongAt
	for _, field := range inOrder(f.wrong) {
		detail := m.words.say(f.wrong[field], f.about[field]...)
		if offer := choices(field, h); offer != "" {
			detail += " There is " + offer + "."
		}
		all = append(all, WrongAt{f.get(pointerPrefix + field), detail})
	}
	return all
}

func choices(field string, h home.Household) string {
	if field == "cat" {
		ids := make([]string, len(h.Cats))
		for i, c := range h.Cats {
			ids[i] = c.ID
		}
		return strings.Join(ids, ", ")
	}
	for _, p := range home.Parts() {
		for _, s := range sides(p) {
			if t, _ := p.Trait(); field == partPrefix+partKey(p, s) && len(t.Values) > 0 {
				return strings.Join(append([]string{home.Usual}, t.Values...), ", ")
			}
		}
	}
	return ""
}

// cut is s without what is beyond n bytes.
func cut(s string, n int) string {
	return strings.ToValidUTF8(s[:min(n, len(s))], "")
}

// readBody reads a check as far as it goes and says whether that is the whole of it.
// A red flag is found even where the rest is no check.
func readBody(text []byte, key string) (b checkBody, wrong []WrongAt, whole bool) {
	d := json.NewDecoder(strings.NewReader(string(text)))
	d.DisallowUnknownFields()
	err := d.Decode(&b)
	if err == nil {
		if _, more := d.Token(); !errors.Is(more, io.EOF) {
			err = errors.New("there is more than one JSON value")
		}
	}
	if err == nil {
		b.ID = or(b.ID, key)
		return b, b.unknown(), true
	}
	var flags struct {
		Cat      string   `json:"cat"`
		RedFlags []string `json:"red_flags"`
	}
	_ = json.Unmarshal(text, &flags) // as far as it goes: what is wrong is said already
	b.Cat, b.RedFlags = flags.Cat, flags.RedFlags
	var kind *json.UnmarshalTypeError
	at := ""
	if errors.As(err, &kind) {
		at = "/" + strings.ReplaceAll(kind.Field, ".", "/")
	}
	return b, []WrongAt{{at, "This is no home check: " + err.Error() + ". The description of the format is at /api/v1/openapi.json."}}, false
}
