package carry

import (
	"errors"
	"io"
	"math"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// History is the readings of several CSV files in time order.
type History struct {
	// Skipped is called for each row that could not be used, with its file; the
	// rest is used. Nil: such rows are passed over.
	Skipped func(file string, err *payload.RowError)
	// Read is called with the number of bytes read since the last call, twice for each
	// byte of a file; may be nil.
	Read func(n int)

	files []*historyFile
	known map[string]*known // of files that were read through
	room  int               // how many rows may be held; 0 for heldMost
}

// historyFile is one file, with its next reading.
type historyFile struct {
	path string
	rows rows
	next home.Reading
	done bool
}

// rows gives one row after another, with an error that is io.EOF at the end and a
// [payload.RowError] for a row that cannot be used.
type rows interface {
	Read() (home.Reading, error)
	io.Closer
}

// Each calls f for every reading of the files at paths, in time order; readings
// of the same time come in the order of the files. Long files in time order are never
// held whole. It stops at the first error of f and returns it.
func (h *History) Each(paths []string, f func(home.Reading) error) error {
	defer h.close()
	for _, path := range paths {
		rows, err := h.open(path)
		if err != nil {
			return err
		}
		file := &historyFile{path: path, rows: rows}
		h.files = append(h.files, file)
		if err := h.advance(file); err != nil {
			return err
		}
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
		f.rows.Close()
	}
	h.files = nil
}

// pass does nothing with a reading.
func pass(home.Reading) error { return nil }

// open is the rows of a file in time order, from memory where they are held.
func (h *History) open(path string) (rows, error) {
	k, err := h.known[path], error(nil)
	if k == nil {
		k, err = h.scan(path, h.left(), pass)
	}
	if err == nil && k.held == nil && !k.ordered {
		k, err = h.scan(path, math.MaxInt, pass)
	}
	if err != nil {
		return nil, err
	}
	if k.held == nil {
		return h.csv(path)
	}
	held := k.held
	k.held = nil
	if !k.ordered {
		held.sort()
	}
	return held, nil
}

// advance gets the next reading of a file.
func (h *History) advance(f *historyFile) error {
	for {
		r, err := f.rows.Read()
		switch bad := badRow(err); {
		case err == nil:
			f.next = r
			return nil
		case errors.Is(err, io.EOF):
			f.done = true
			return nil
		case bad == nil:
			return err
		case h.Skipped != nil:
			h.Skipped(f.path, bad)
		}
	}
}

// badRow is err where it is of a row that cannot be used, nil where it is not.
func badRow(err error) *payload.RowError {
	if err == nil {
		return nil
	}
	var row *payload.RowError
	errors.As(err, &row)
	return row
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
