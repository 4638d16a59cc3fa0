package manual

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// correct shows an entry in the form, to be sent again as it should have been.
func (m *room) correct(w http.ResponseWriter, r *http.Request) {
	c, check, err := m.find(r)
	if err != nil {
		m.fail(w, r, err)
		return
	}
	h, err := m.store.Household(r.Context())
	if err != nil {
		m.fail(w, r, err)
		return
	}
	typed := m.fresh(r.Context(), c)
	m.fields(check, typed)
	typed.Set("corrects", check.ID)
	typed.Set("corrected-when", m.clock(check.Time))
	m.showForm(w, r, http.StatusOK, h, &form{typed: typed}, "")
}

// fields fills in what check would be read from.
func (m *room) fields(check home.HomeCheck, typed url.Values) {
	typed.Set("when", check.Time.In(m.opts.Zone).Format(stampTyped))
	typed.Set("by", check.By)
	typed.Set("note", check.Note)
	for _, flag := range check.RedFlags {
		typed.Add("flag", string(flag))
	}
	for _, s := range check.Seen {
		seenFields(s, typed)
	}
	for _, r := range check.Readings {
		m.readingFields(r, typed)
	}
	for _, l := range check.Lumps {
		lumpFields(l, typed)
	}
	for row, g := range check.Given {
		for what, value := range map[string]string{"kind": string(g.Kind), "what": g.What, "amount": g.Amount, "taken": string(g.Taken)} {
			typed.Set(givenField(row, what), value)
		}
	}
	for _, p := range check.Photos {
		typed.Add("kept", p.ID)
		typed.Set("caption", p.Caption)
	}
}

func (m *room) readingFields(r home.Reading, typed url.Values) {
	count := func(c counting) {
		typed.Set(c.field, strconv.FormatFloat(r.Value, 'f', -1, 64))
		typed.Set(c.window, strconv.Itoa(int(r.Window.Seconds())))
		typed.Set(c.state, string(r.State))
	}
	switch r.Quantity {
	case home.Weight:
		if d := asDifference.FindStringSubmatch(r.Note); d != nil {
			for i, field := range []string{"with", "without", "unit", "step"} {
				typed.Set(field, d[i+1])
			}
			return
		}
		unit, per := m.unit()
		typed.Set("unit", unit)
		typed.Set("weight", shortest(r.Value/per, 3))
	case home.Breaths:
		count(breathing)
	case home.Heartbeats:
		count(beating)
	case home.Temperature:
		typed.Set("temperature-unit", "Cel")
		typed.Set("temperature", shortest(r.Value, 2))
	}
}

// shortest is v with at most that many decimals, without zeros at its end.
func shortest(v float64, decimals int) string {
	return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(v, 'f', decimals, 64), "0"), ".")
}

func lumpFields(l home.Lump, typed url.Values) {
	set := func(what, value string) { typed.Set(lumpPrefix+l.ID+"."+what, value) }
	set("place", string(l.Place))
	set("side", string(l.Side))
	set("note", l.Note)
	if !l.FirstSeen.IsZero() {
		set("first", l.FirstSeen.Format(time.DateOnly))
	}
	if l.Gone {
		set("gone", "1")
	}
	for what, mm := range map[string]float64{"length": l.LengthMm, "width": l.WidthMm, "height": l.HeightMm} {
		if mm > 0 {
			set(what, shortest(mm, 1))
		}
	}
}

// unchanged puts a number as it was first entered in the place of one that was
// left alone in the form: the form shows it rounded, and not how it came about.
func (f *form) unchanged(old home.HomeCheck, m *room) {
	for _, before := range old.Readings {
		shown := url.Values{}
		m.readingFields(before, shown)
		same := true
		for field := range shown {
			same = same && f.get(field) == shown.Get(field)
		}
		for i, r := range f.check.Readings {
			if same && r.Quantity == before.Quantity {
				f.check.Readings[i].Value, f.check.Readings[i].SD, f.check.Readings[i].Note = before.Value, before.SD, before.Note
			}
		}
	}
}

// takeBack takes an entry back without anything in its place.
func (m *room) takeBack(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxFields)
	if err := r.ParseForm(); err != nil {
		m.refuse(w, err)
		return
	}
	cat := r.PathValue("cat")
	c := home.Correction{Cat: cat, Matter: home.Matter(r.PostFormValue("matter")), Target: r.PostFormValue("target"), At: m.opts.Now().UTC().Truncate(home.TimeStep),
		By: strings.TrimSpace(r.PostFormValue("by")), Why: strings.TrimSpace(r.PostFormValue("why"))}
	c.ID = "back/" + digest(string(c.Matter), c.Target)
	if c.Why == "" {
		m.historyPage(w, r, http.StatusUnprocessableEntity, c.Target, m.words.say(msgWhy))
		return
	}
	if err := c.Valid(); err != nil {
		m.historyPage(w, r, http.StatusUnprocessableEntity, c.Target, err.Error())
		return
	}
	if err := m.opts.Diary.Correct(r.Context(), c, home.Batch{}); err != nil {
		m.notCorrected(w, r, c, err)
		return
	}
	http.Redirect(w, r, fmt.Sprintf("/check/%s/history#%s", cat, anchorOf(c.Target)), http.StatusSeeOther)
}
