package dashboards

import (
	"context"
	"net/http"
	"strings"
	"time"

	"weighbeam/home"
)

// waysForm is what the house goes by: its practice, units, time zone and quiet hours.
type waysForm struct {
	Practice, Phone, Units, Zone, QuietFrom, QuietTo string
	Now                                              string // the time of day in the zone shown
}

func (waysForm) template() (name, title string) { return "household-ways.html", "This house" }

func (waysForm) filled(p *pages, h home.Household, id string) (form, bool) {
	f := &waysForm{Practice: h.Practice, Phone: h.Phone, Units: h.Units, Zone: h.Zone, QuietFrom: h.QuietFrom, QuietTo: h.QuietTo}
	if f.Practice == "" && f.Phone == "" {
		f.Practice, f.Phone = p.opts.Householder.Vet()
	}
	if f.Units == "" {
		f.Units = p.say.unit()
	}
	f.Now = p.say.clock(p.opts.Now())
	return f, id == ""
}

func (f *waysForm) sent(r *http.Request) {
	v := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
	*f = waysForm{Practice: v("practice"), Phone: v("phone"), Units: v("units"), Zone: v("zone"), QuietFrom: v("quiet_from"), QuietTo: v("quiet_to")}
}

func (f *waysForm) into(_ context.Context, p *pages, h home.Household) (home.Household, map[string]string) {
	f.Now = p.say.clock(p.opts.Now())
	wrong := map[string]string{}
	if f.Phone != "" && !strings.ContainsAny(f.Phone, "0123456789") {
		wrong["phone"] = "A telephone number has digits."
	}
	if _, err := time.LoadLocation(f.Zone); err != nil || f.Zone == "Local" {
		wrong["zone"] = "That is no time zone: write it as Europe/Vienna."
	}
	h.Practice, h.Phone, h.Units, h.Zone, h.QuietFrom, h.QuietTo = f.Practice, f.Phone, f.Units, f.Zone, f.QuietFrom, f.QuietTo
	if len(wrong) == 0 {
		if err := h.Valid(); err != nil {
			wrong["quiet"] = sentence(err)
		}
	}
	return h, wrong
}

func (f *waysForm) without(h home.Household) home.Household { return h }

func (f *waysForm) only(h home.Household) home.Household {
	h.Cats, h.Scales, h.Contacts = nil, nil, nil
	return h
}
