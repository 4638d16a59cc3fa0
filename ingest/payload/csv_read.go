package payload

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
)

// RowError is a row of a CSV file that could not be used. Reading goes on after it.
type RowError struct {
	Line int // of the file, from 1
	Err  error
}

func (e *RowError) Error() string { return fmt.Sprintf("line %d: %v", e.Line, e.Err) }

func (e *RowError) Unwrap() error { return e.Err }

// CSVReader reads the readings CSV row by row, in constant memory.
//
// A cell of a column that the format does not know is kept in the reading's
// note, as "column=value". An empty unit means the quantity's own. Without the column
// "arrived" a reading arrived when it was true; without "clock" it is dated by
// hand for the sources hand and clinic and by the device for all others.
type CSVReader struct {
	rows    *rows
	columns []column
	known   map[string]string // sources, cats and the like, kept once
	draft   draft             // of the row now read: used again, since a million rows are no rarity
	foreign bool              // there are columns that the format does not know
	line    int
}

type column struct {
	name   string
	set    setter // nil for a column that the format does not know
	needed bool
}

// NewCSVReader reads the header. The error says which column is missing or there twice.
func NewCSVReader(r io.Reader) (*CSVReader, error) {
	c := &CSVReader{rows: newRows(r), known: map[string]string{}}
	header, _, err := c.rows.next()
	if errors.Is(err, io.EOF) {
		return nil, errors.New("the file is empty: the first line names the columns")
	}
	if err != nil {
		return nil, err
	}
	for _, name := range header {
		name = strings.Clone(strings.TrimSpace(name))
		if name != "" && slices.ContainsFunc(c.columns, func(o column) bool { return o.name == name }) {
			return nil, fmt.Errorf("column %q is there twice", name)
		}
		set := setters[name]
		c.columns = append(c.columns, column{name, set, slices.Contains(Columns[:needed], name)})
		c.foreign = c.foreign || set == nil
	}
	for _, name := range Columns[:needed] {
		if !slices.ContainsFunc(c.columns, func(o column) bool { return o.name == name }) {
			return nil, home.Hinted("read CSV", "The first line names the columns, parted by commas: "+strings.Join(Columns[:9], ",")+".",
				"column %q is missing", name)
		}
	}
	return c, nil
}

// Line is the number of the line that the last reading or error came from.
func (c *CSVReader) Line() int { return c.line }

// Text is that line, or the row where it goes over several; empty where it was too long.
func (c *CSVReader) Text() string { return c.rows.row }

// Read returns the next reading. The error is io.EOF at the end, a [*RowError] for
// a row that cannot be used, after which the next call goes on, or what the
// underlying reader said.
func (c *CSVReader) Read() (home.Reading, error) {
	cells, line, err := c.rows.next()
	c.line = line
	if err != nil {
		return home.Reading{}, err
	}
	r, err := c.reading(cells)
	if err != nil {
		return home.Reading{}, &RowError{Line: line, Err: err}
	}
	return r, nil
}

func (c *CSVReader) reading(cells []string) (home.Reading, error) {
	if len(cells) != len(c.columns) {
		return home.Reading{}, fmt.Errorf("%d cells under %d columns", len(cells), len(c.columns))
	}
	c.draft = draft{}
	empty := ""
	for i, col := range c.columns {
		cell := cells[i]
		if cell == "" && col.needed && empty == "" {
			empty = col.name
		}
		if cell == "" || col.set == nil {
			continue
		}
		if err := col.set(&c.draft, cell); err != nil {
			return home.Reading{}, fmt.Errorf("%s: %w", col.name, err)
		}
	}
	if empty != "" {
		return home.Reading{}, fmt.Errorf("%s is empty", empty)
	}
	if c.foreign {
		c.note(cells)
	}
	return c.finish()
}

// note keeps the cells of columns that the format does not know.
func (c *CSVReader) note(cells []string) {
	for i, col := range c.columns {
		if col.set == nil && cells[i] != "" {
			c.draft.Note = addNote(c.draft.Note, col.name+"="+cells[i])
		}
	}
}

// finish converts and checks a row, and fills what it left out.
func (c *CSVReader) finish() (home.Reading, error) {
	d := &c.draft
	if d.unit == "" {
		d.unit = d.Quantity.Unit()
	}
	r, err := d.converted()
	if err != nil {
		return home.Reading{}, err
	}
	r.Source, r.Cat, r.Note = c.keep(r.Source), c.keep(r.Cat), strings.Clone(r.Note)
	dated := !r.Arrived.IsZero()
	if r.Clock = home.Clock(c.keep(string(r.Clock))); r.Clock == "" {
		r.Clock = home.ByDevice
		if r.Source == home.Hand || r.Source == home.Clinic {
			r.Clock = home.ByHand
		}
	}
	r.State = home.State(c.keep(string(r.State)))
	r = r.Normal()
	if !dated {
		r.Arrived = r.Time
	}
	return r, r.Valid()
}

// keep returns s without holding on to the line that it was cut from. Names
// repeat; where they do not, the memory for them is bounded.
func (c *CSVReader) keep(s string) string {
	if s == "" {
		return ""
	}
	if k, ok := c.known[s]; ok {
		return k
	}
	s = strings.Clone(s)
	if len(c.known) < 4096 {
		c.known[s] = s
	}
	return s
}

// csvOf is the decoder of a payload that is a readings CSV. A scale's topic gives
// readings of that scale only.
func csvOf(s home.Scale) Decoder {
	return func(b []byte, a Arrival) ([]home.Reading, error) { return CSV(b, a, s.ID) }
}

// earliestWritten is the earliest time that a row of a payload may give: earlier lie the
// dates at which clocks wake up that were never set, and no cat of now was alive.
var earliestWritten = time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC)

// CSV reads a payload that is a readings CSV. Its times are written out, so those
// of long ago are believed, as in a history that is sent late; those before
// [earliestWritten] and those of the future are treated as for every device. Where only
// is not empty, rows of other sources are refused.
func CSV(b []byte, a Arrival, only string) ([]home.Reading, error) {
	c, err := NewCSVReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	var rows []home.Reading // their times tell about one another: dated when all are read
	var lines []int
	bad, seen := &problems{}, apart{}
	for {
		r, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			bad.add(fmt.Sprintf("line %d", c.Line()), withoutLine(err))
			continue
		}
		if unbelieved(r, a) {
			a.see(r.Time, false)
		}
		rows, lines = append(rows, r), append(lines, c.Line())
	}
	readings := rows[:0]
	for i, r := range rows {
		err := cameIn(&r, a, only)
		if err == nil {
			err = seen.check(r)
		}
		if err != nil {
			bad.add(fmt.Sprintf("line %d", lines[i]), err)
			continue
		}
		readings = append(readings, r)
	}
	if len(readings) == 0 && bad.count == 0 {
		return nil, errors.New("the CSV holds no row")
	}
	return readings, bad.err()
}

// unbelieved reports whether the time of a row is a wrong clock's.
func unbelieved(r home.Reading, a Arrival) bool {
	return r.Time.Before(earliestWritten) || r.Time.Sub(a.Time) > FutureTolerance
}

// cameIn dates a row by what the house knows.
func cameIn(r *home.Reading, a Arrival, only string) error {
	if only != "" && r.Source != only {
		return fmt.Errorf("source %q, but the topic belongs to %q", r.Source, only)
	}
	if unbelieved(*r, a) {
		if err := (draft{device: r.Time}).date(r, a); err != nil {
			return err
		}
	}
	r.Arrived, r.Retained, r.Resent = a.Time, a.Retained, a.Resent
	*r = r.Normal()
	return r.Valid()
}

// withoutLine is the error of a row without its line number.
func withoutLine(err error) error {
	var row *RowError
	if errors.As(err, &row) {
		return row.Err
	}
	return err
}
