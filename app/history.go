package app

import (
	"errors"
	"io"
	"os"
	"slices"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// History is the readings of several CSV files in time order.
type History struct {
	// Skipped is called for each row that could not be used, with its file; the
	// rest is used. Nil: such rows are passed over.
	Skipped func(file string, err *payload.RowError)
	// Read is called with the number of bytes read since the last call; may be nil.
	Read func(n int)

	files []*historyFile
}

// historyFile is one file, with its next reading.
type historyFile struct {
	path string
	file *os.File
	rows *payload.CSVReader
	next home.Reading
	rest []home.Reading // of a file that had to be read whole and sorted
	done bool
}

// Each calls f for every reading of the files at paths, in time order; readings
// of the same time come in the order of the files. Files in time order are never
// held whole. It stops at the first error of f and returns it.
func (h *History) Each(paths []string, f func(home.Reading) error) error {
	defer h.close()
	for _, path := range paths {
		file, err := h.open(path)
		if err != nil {
			return err
		}
		h.files = append(h.files, file)
	}
	for {
		file := h.earliest()
		if file == nil {
			return nil
		}
		if err := f(file.next); err != nil {
			return err
		}
		if err := h.advance(file); err != nil {
			return err
		}
	}
}

func (h *History) close() {
	for _, f := range h.files {
		f.file.Close()
	}
	h.files = nil
}

// open reads a file once to see whether it is in order, and sorts it if it is not.
func (h *History) open(path string) (*historyFile, error) {
	f := &historyFile{path: path}
	err := h.begin(f)
	if err != nil {
		return nil, err
	}
	ordered, err := h.inOrder(f)
	if err == nil && !ordered {
		err = h.sort(f)
	}
	f.file.Close()
	if err != nil {
		return nil, err
	}
	if ordered {
		if err := h.begin(f); err != nil {
			return nil, err
		}
	}
	return f, h.advance(f)
}

// begin opens the file at its first row.
func (h *History) begin(f *historyFile) (err error) {
	if f.file, err = os.Open(f.path); err != nil {
		return &home.Error{Op: "read history", Hint: "Give the path of a readings CSV.", Err: err}
	}
	if f.rows, err = payload.NewCSVReader(&counted{f.file, h.Read}); err != nil {
		f.file.Close()
		return &home.Error{Op: "read history", Err: &located{file: f.path, line: 1, err: err}}
	}
	return nil
}

// inOrder reads the file through and reports whether its times never go back.
func (h *History) inOrder(f *historyFile) (bool, error) {
	var last home.Reading
	for {
		r, err := f.rows.Read()
		var row *payload.RowError
		switch {
		case errors.Is(err, io.EOF):
			return true, nil
		case errors.As(err, &row):
			continue
		case err != nil:
			return false, &home.Error{Op: "read history", Err: &located{file: f.path, line: f.rows.Line(), err: err}}
		case r.Time.Before(last.Time):
			return false, nil
		}
		last = r
	}
}

// sort reads the file whole and puts it in order.
func (h *History) sort(f *historyFile) error {
	f.file.Close()
	if err := h.begin(f); err != nil {
		return err
	}
	for {
		r, err := h.row(f)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		f.rest = append(f.rest, r)
	}
	slices.SortStableFunc(f.rest, func(a, b home.Reading) int { return a.Time.Compare(b.Time) })
	f.rows = nil
	return nil
}

// row reads the next usable row.
func (h *History) row(f *historyFile) (home.Reading, error) {
	for {
		r, err := f.rows.Read()
		var row *payload.RowError
		switch {
		case err == nil || errors.Is(err, io.EOF):
			return r, err
		case errors.As(err, &row):
			if h.Skipped != nil {
				h.Skipped(f.path, row)
			}
		default:
			return r, &home.Error{Op: "read history", Err: &located{file: f.path, line: f.rows.Line(), err: err}}
		}
	}
}

// advance gets the next reading of a file.
func (h *History) advance(f *historyFile) error {
	if f.rows == nil {
		if f.done = len(f.rest) == 0; !f.done {
			f.next, f.rest = f.rest[0], f.rest[1:]
		}
		return nil
	}
	r, err := h.row(f)
	if errors.Is(err, io.EOF) {
		f.done = true
		return nil
	}
	f.next = r
	return err
}

func (h *History) earliest() *historyFile {
	var first *historyFile
	for _, f := range h.files {
		if !f.done && (first == nil || f.next.Time.Before(first.next.Time)) {
			first = f
		}
	}
	return first
}

// counted tells how much is read.
type counted struct {
	r    io.Reader
	tell func(n int)
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	if c.tell != nil {
		c.tell(n)
	}
	return n, err
}
