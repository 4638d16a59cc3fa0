package dashboards

import (
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// calibrateView is the page on which a scale is calibrated. What was read so far
// stands in its address, so that it survives a restart and needs no script.
type calibrateView struct {
	ID, Now      string
	Points       []pointRow
	Carry        []string // the points as they stand in the address
	Here         string   // the address with them
	Mass, Unit   string   // as typed
	Within, Kind string
	Kinds        []home.MassKind
	Units        []string
	Wrong, Hint  string
	Fit          *fitView
	By, Since    string
}

type pointRow struct{ What, Read, Without string }

type fitView struct {
	Verdict  string
	Facts    []standing
	Warnings []string
}

// standing is a name with its value.
type standing struct{ Name, Value string }

// massUnits are the units in which a known mass may be typed.
var massUnits = []string{"kg", "g", "lb", "oz", "l", "ml"}

// maxCalibrate is far more than the form needs.
const maxCalibrate = 64 << 10

// calibrate shows the page, and reads the scale where the reader asks for it.
func (p *pages) calibrate(w http.ResponseWriter, r *http.Request) {
	v := calibrateView{ID: r.PathValue("id"), Kinds: home.MassKinds(), Kind: "weight", Units: massUnits, Unit: "kg"}
	points := pointsOf(r.URL.Query()["p"])
	if r.FormValue("read") == "" {
		p.showCalibrate(w, r, http.StatusOK, v, points)
		return
	}
	v.Mass, v.Unit, v.Within, v.Kind = r.FormValue("mass"), r.FormValue("unit"), r.FormValue("within"), r.FormValue("kind")
	known, err := v.known(len(points) == 0)
	if err != nil {
		v.Wrong = sentence(err)
		p.showCalibrate(w, r, http.StatusUnprocessableEntity, v, points)
		return
	}
	live, err := p.opts.Bench.Live(r.Context(), v.ID)
	switch {
	case err != nil:
		p.draw(w, r, view{}, err)
	case live.Moving != "":
		v.Wrong, v.Hint = "Not read yet: the scale is not at rest.", live.Moving+" Wait until nothing touches it and read it again."
		p.showCalibrate(w, r, http.StatusOK, v, points)
	case len(points) > 0 && live.Rest.From.Before(points[len(points)-1].To):
		v.Wrong, v.Hint = "Not read yet: this is the load that was read before.", "Put the mass on, and wait until the scale has been at rest for some seconds."
		p.showCalibrate(w, r, http.StatusOK, v, points)
	default:
		live.Rest.Kg, live.Rest.SDKg = known.Kg, known.SDKg
		http.Redirect(w, r, "/sources/"+url.PathEscape(v.ID)+"/calibrate?"+addressOf(append(points, live.Rest)).Encode(), http.StatusSeeOther)
	}
}

// known is the mass that was typed; nothing for the first point.
func (v calibrateView) known(empty bool) (home.KnownLoad, error) {
	if empty {
		return home.KnownLoad{}, nil
	}
	text := v.Mass + " " + v.Unit
	if strings.TrimSpace(v.Within) != "" {
		text += " +- " + strings.TrimSpace(v.Within) + " g"
	}
	return home.ParseKnownMass(v.Kind + " " + strings.TrimSpace(text))
}

// keepCalibration corrects the scale by the points that were read.
func (p *pages) keepCalibration(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxCalibrate)
	v := calibrateView{ID: r.PathValue("id"), Kinds: home.MassKinds(), Kind: "weight", Units: massUnits, Unit: "kg", By: r.PostFormValue("by"), Since: r.PostFormValue("since")}
	points := pointsOf(r.PostForm["p"])
	c := home.Calibration{Source: v.ID, By: strings.TrimSpace(v.By), Points: unread(points)}
	if v.Since == "always" {
		c.From = home.Always
	}
	if _, err := p.opts.Bench.Fit(r.Context(), c, true); err != nil {
		slog.WarnContext(r.Context(), "keep a calibration", "source", v.ID, "err", err)
		v.Wrong, v.Hint = "Not kept. "+sentence(err), home.Hint(err)
		p.showCalibrate(w, r, http.StatusUnprocessableEntity, v, points)
		return
	}
	http.Redirect(w, r, "/sources/"+url.PathEscape(v.ID)+"#calibrations", http.StatusSeeOther)
}

func (p *pages) showCalibrate(w http.ResponseWriter, r *http.Request, status int, v calibrateView, points []home.KnownLoad) {
	live, err := p.opts.Bench.Live(r.Context(), v.ID)
	if err != nil {
		p.draw(w, r, view{}, err)
		return
	}
	guard(w.Header(), scriptPolicy)
	v.Now = liveWords(live)
	base := "/sources/" + v.ID + "/calibrate"
	v.Here = base + "?" + addressOf(points).Encode()
	v.Carry = addressOf(points)["p"]
	for i, one := range points {
		row := pointRow{What: knownWords(one), Read: number(one.Load[0], 4) + " kg"}
		row.Without = base + "?" + addressOf(append(append([]home.KnownLoad{}, points[:i]...), points[i+1:]...)).Encode()
		v.Points = append(v.Points, row)
	}
	if len(points) > 1 {
		v.fit(p, r, points)
	}
	p.write(w, r, status, view{"calibrate.html", "Calibrate " + v.ID, v})
}

func knownWords(k home.KnownLoad) string {
	if k.Kg == 0 {
		return "nothing"
	}
	return fmt.Sprintf("%s kg ± %s g", number(k.Kg, 3), number(k.SDKg*1000, 1))
}

// fit says how good the scale is by the points so far.
func (v *calibrateView) fit(p *pages, r *http.Request, points []home.KnownLoad) {
	c, err := p.opts.Bench.Fit(r.Context(), home.Calibration{Source: v.ID, Points: unread(points)}, false)
	if err != nil {
		if v.Wrong == "" {
			v.Wrong, v.Hint = sentence(err), home.Hint(err)
		}
		return
	}
	v.Fit = &fitView{Verdict: c.Verdict(), Warnings: c.Warnings, Facts: calibrationFacts(c)}
}

func calibrationFacts(c home.Calibration) []standing {
	return []standing{
		{"Gain", number(c.Gain, 5) + " ± " + number(c.GainSD, 5)},
		{"Offset", number(c.OffsetKg, 3) + " ± " + number(c.OffsetSD, 3) + " kg"},
		{"Off the line, at most", number(c.LinearityKg*1000, 1) + " g"},
		{"Repeatability", number(c.RepeatabilityKg*1000, 1) + " g"},
	}
}

// pointsOf reads points from an address: mass, its uncertainty, kg, from and to in
// microseconds of Unix time, and what was read. What is no point is passed over.
func pointsOf(texts []string) []home.KnownLoad {
	var out []home.KnownLoad
	for _, text := range texts {
		fields := strings.Split(text, ",")
		if len(fields) != 5 || len(out) == home.MaxPoints {
			continue
		}
		var v [5]float64
		ok := true
		for i, f := range fields {
			var err error
			v[i], err = strconv.ParseFloat(f, 64)
			ok = ok && err == nil && v[i] >= -1e18 && v[i] <= 1e18
		}
		one := home.KnownLoad{Kg: v[0], SDKg: v[1], From: time.UnixMicro(int64(v[2])).UTC(), To: time.UnixMicro(int64(v[3])).UTC(), Load: []float64{v[4]}}
		if ok && one.Valid() == nil {
			out = append(out, one)
		}
	}
	return out
}

// addressOf is the points as they stand in an address.
func addressOf(points []home.KnownLoad) url.Values {
	q := url.Values{}
	for _, p := range points {
		q.Add("p", fmt.Sprintf("%s,%s,%d,%d,%s", plain(p.Kg), strconv.FormatFloat(p.SDKg, 'g', 6, 64), p.From.UnixMicro(), p.To.UnixMicro(), strconv.FormatFloat(meanOf(p.Load), 'f', 5, 64)))
	}
	return q
}

func meanOf(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

// unread is the points without what stands in the address of their readings: those
// are read again from what the scale said.
func unread(points []home.KnownLoad) []home.KnownLoad {
	out := make([]home.KnownLoad, len(points))
	for i, p := range points {
		p.Load = nil
		out[i] = p
	}
	return out
}
