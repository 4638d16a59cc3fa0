package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

type trendCmd struct {
	JSON    bool    `help:"One JSON object."`
	Control int     `help:"Judge by control charts what comes after the first N samples." placeholder:"N"`
	Length  float64 `name:"run" help:"With --control: mean samples to a false signal." default:"370"`
	Counts  float64 `help:"The values are counts over windows of so many seconds." placeholder:"SECONDS"`
	File    string  `arg:"" help:"CSV with the columns time and value, in time order. Times are RFC 3339, dates, or numbers; a value that is empty or NA is missing." type:"existingfile"`
}

func (c trendCmd) Run(t terminal) error {
	s, err := readSeries(c.File)
	if err != nil {
		return err
	}
	trend := stat.DescribeTrend(s.times, s.values)
	out := s.trendJSON(trend)
	out.Overall = s.overall()
	if c.Control != 0 {
		if out.Control, err = s.control(c.Control, c.Length); err != nil {
			return err
		}
	}
	if c.Counts != 0 {
		if out.Counts, err = s.counted(c.Counts); err != nil {
			return err
		}
	}
	if c.JSON {
		enc := json.NewEncoder(t.out)
		enc.SetIndent("", "  ")
		return enc.Encode(out)
	}
	if err := s.tell(t.out, trend); err != nil {
		return err
	}
	out.Overall.tell(t.out, s.per())
	if out.Control != nil {
		out.Control.tell(t.out, &s)
	}
	if out.Counts != nil {
		out.Counts.tell(t.out)
	}
	return nil
}

// series is the two columns of a file. Dated times are days since the first.
type series struct {
	times, values []float64
	first         time.Time // zero where the times are numbers
}

func readSeries(path string) (series, error) {
	const op = "read series"
	f, err := os.Open(path)
	if err != nil {
		return series{}, &home.Error{Op: op, Err: err}
	}
	defer f.Close()
	rows := csv.NewReader(f)
	head, err := rows.Read()
	if err != nil {
		return series{}, &home.Error{Op: op, Hint: "The first line names the columns: time,value.", Err: err}
	}
	at, value := -1, -1
	for i, name := range head {
		switch strings.TrimSpace(strings.TrimPrefix(name, "\ufeff")) { // spreadsheets mark UTF-8
		case "time":
			at = i
		case "value":
			value = i
		}
	}
	if at < 0 || value < 0 {
		return series{}, home.Hinted(op, "The first line names the columns: time,value.", "%s has the columns %s", path, strings.Join(head, ","))
	}
	var s series
	for {
		row, err := rows.Read()
		if errors.Is(err, io.EOF) {
			return s, s.inOrder(path)
		}
		if err == nil {
			err = s.add(row[at], row[value])
		}
		if err != nil {
			line, _ := rows.FieldPos(0)
			return series{}, home.Hinted(op, "Correct that line, or leave it out.", "%s line %d: %w", path, line, err)
		}
	}
}

func (s *series) add(at, value string) error {
	v, err := parseValue(strings.TrimSpace(value))
	if err != nil {
		return err
	}
	x, err := s.time(strings.TrimSpace(at))
	if err != nil {
		return err
	}
	s.times, s.values = append(s.times, x), append(s.values, v)
	return nil
}

// time reads a number, or a date as days since that of the first row: a file has the
// one or the other, since nothing says how they lie to each other.
func (s *series) time(text string) (float64, error) {
	first := len(s.times) == 0
	x, err := strconv.ParseFloat(text, 64)
	switch {
	case err == nil && (math.IsNaN(x) || math.IsInf(x, 0)):
		return 0, fmt.Errorf("time %q is no number", text)
	case err == nil && (first || s.first.IsZero()):
		return x, nil
	case err == nil:
		return 0, fmt.Errorf("time %q is a number, where the rows before have dates", text)
	}
	day, err := parseDay(text)
	switch {
	case err != nil:
		return 0, err
	case first:
		s.first = day
	case s.first.IsZero():
		return 0, fmt.Errorf("time %q is a date, where the rows before have numbers", text)
	}
	return day.Sub(s.first).Hours() / 24, nil
}

// parseValue reads a number, NaN for one that is missing.
func parseValue(text string) (float64, error) {
	switch text {
	case "", "NA", "NaN", "nan":
		return math.NaN(), nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, fmt.Errorf("value %q is no number", text)
	}
	return v, nil
}

// parseDay reads a time, or a date, which is its midnight UTC.
func parseDay(text string) (time.Time, error) {
	if day, err := time.Parse(time.DateOnly, text); err == nil {
		return day, nil
	}
	day, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return day, fmt.Errorf("time %q is neither RFC 3339, nor a date, nor a number", text)
	}
	return day, nil
}

// present are the samples that are not missing.
func (s *series) present() series {
	p := series{first: s.first}
	for i, v := range s.values {
		if !math.IsNaN(v) {
			p.times, p.values = append(p.times, s.times[i]), append(p.values, v)
		}
	}
	return p
}

func (s *series) inOrder(path string) error {
	for i := 1; i < len(s.times); i++ {
		if s.times[i] < s.times[i-1] {
			return home.Hinted("read series", "Sort the file by time.", "%s: row %d is earlier than the one before", path, i+2)
		}
	}
	return nil
}

// when is a time as the file writes it.
func (s *series) when(x float64) any {
	if s.first.IsZero() {
		return x
	}
	return s.first.Add(time.Duration(x * 24 * float64(time.Hour))).UTC().Truncate(time.Second)
}

// told is a time as a person reads it, to the minute.
func (s *series) told(x float64) string {
	if at, ok := s.when(x).(time.Time); ok {
		return at.Format("2006-01-02 15:04 UTC")
	}
	return fmt.Sprintf("%.6g", x)
}

// per is the unit of time of a pace.
func (s *series) per() string {
	if s.first.IsZero() {
		return "unit of time"
	}
	return "day"
}

type segmentJSON struct {
	Start int     `json:"start"` // index of its first sample
	End   int     `json:"end"`   // index after its last sample
	Level float64 `json:"level"` // fitted, at the first sample
	Slope float64 `json:"slope"`
}

type trendJSON struct {
	N             int           `json:"n"`
	Shape         string        `json:"shape"`
	Level         *float64      `json:"level"` // the same
	Pace          *float64      `json:"pace"`  // null of fewer than three samples
	PaceInterval  []float64     `json:"pace_interval"`
	Per           string        `json:"pace_per"`
	Onset         any           `json:"onset"` // null where nothing changed
	OnsetInterval []any         `json:"onset_interval"`
	Changepoints  []int         `json:"changepoints"` // first sample of each new segment
	Intervals     [][2]int      `json:"changepoint_intervals"`
	Segments      []segmentJSON `json:"segments"`
	Outliers      []int         `json:"outliers"`
	Overall       *overallJSON  `json:"overall,omitempty"`
	Control       *controlJSON  `json:"control,omitempty"`
	Counts        *countsJSON   `json:"counts,omitempty"`
}

func (s *series) trendJSON(t stat.Trend) trendJSON {
	out := trendJSON{N: t.N, Shape: t.Shape, PaceInterval: []float64{}, Per: s.per(),
		OnsetInterval: []any{}, Changepoints: []int{}, Intervals: [][2]int{}, Segments: []segmentJSON{}, Outliers: []int{}}
	if t.Shape != "" {
		out.Level = &t.Level
		if finite(t.Pace) {
			out.Pace = &t.Pace
		}
		if finite(t.PaceLo) && finite(t.PaceHi) {
			out.PaceInterval = []float64{t.PaceLo, t.PaceHi}
		}
	}
	if t.Changed {
		out.Onset, out.OnsetInterval = s.when(t.Onset), []any{s.when(t.OnsetLo), s.when(t.OnsetHi)}
	}
	out.Changepoints = append(out.Changepoints, t.Changepoints...)
	out.Intervals = append(out.Intervals, t.Intervals...)
	out.Outliers = append(out.Outliers, t.Outliers...)
	for _, g := range t.Segments {
		out.Segments = append(out.Segments, segmentJSON(g))
	}
	return out
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func (s *series) tell(w io.Writer, t stat.Trend) error {
	if t.N < 3 {
		_, err := fmt.Fprintf(w, "%d samples: too few to say anything.\n", t.N)
		return err
	}
	within := fmt.Sprintf("90 %% interval %.3g to %.3g", t.PaceLo, t.PaceHi)
	if !finite(t.PaceLo) || !finite(t.PaceHi) {
		within = "how surely cannot be told"
	}
	fmt.Fprintf(w, "%d samples. Level now %.5g, changing by %.3g a %s (%s).\n", t.N, t.Level, t.Pace, s.per(), within)
	if t.Changed {
		fmt.Fprintf(w, "What goes on now began at %s (between %s and %s).\n", s.told(t.Onset), s.told(t.OnsetLo), s.told(t.OnsetHi))
	} else {
		fmt.Fprintln(w, "No change in between.")
	}
	tab := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tab, "from\tsamples\tlevel\tslope")
	for _, g := range t.Segments {
		fmt.Fprintf(tab, "%s\t%d\t%.5g\t%.3g\n", s.told(s.times[g.Start]), g.End-g.Start, g.Level, g.Slope)
	}
	if err := tab.Flush(); err != nil {
		return err
	}
	if len(t.Outliers) > 0 {
		fmt.Fprintf(w, "%d samples were set aside as spikes.\n", len(t.Outliers))
	}
	return nil
}
