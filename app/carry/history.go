package carry

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"time"

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

	files   []*historyFile
	ordered map[string]bool // whether a file that was read through is in time order
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

// Scan calls f for every reading of the files at paths as they stand, and spares Each
// to look whether they are in time order.
func (h *History) Scan(paths []string, f func(home.Reading) error) error {
	for _, path := range paths {
		file := &historyFile{path: path}
		if err := h.begin(file); err != nil {
			return err
		}
		err := h.through(file, f)
		file.file.Close()
		if err != nil {
			return err
		}
	}
	return nil
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

// open reads a file once to see whether it is in order, unless that is known, and
// sorts it if it is not.
func (h *History) open(path string) (*historyFile, error) {
	if _, known := h.ordered[path]; !known {
		if err := h.Scan([]string{path}, nil); err != nil {
			return nil, err
		}
	}
	f := &historyFile{path: path}
	if err := h.begin(f); err != nil {
		return nil, err
	}
	if !h.ordered[path] {
		err := h.sort(f)
		f.file.Close()
		if err != nil {
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
		return &home.Error{Op: "read history", Err: fmt.Errorf("%s line %d: %w", f.path, 1, err)}
	}
	return nil
}

// through reads a file from where it stands, calls f, which may be nil, for each reading
// and remembers whether their times never go back. Without f it may stop at the first that does.
func (h *History) through(file *historyFile, f func(home.Reading) error) error {
	if h.ordered == nil {
		h.ordered = map[string]bool{}
	}
	ordered := true
	var last time.Time
	for {
		r, err := file.rows.Read()
		switch {
		case err == nil:
		case errors.Is(err, io.EOF):
			h.ordered[file.path] = ordered
			return nil
		case badRow(err) != nil:
			continue
		default:
			return &home.Error{Op: "read history", Err: fmt.Errorf("%s line %d: %w", file.path, file.rows.Line(), err)}
		}
		ordered, last = ordered && !r.Time.Before(last), r.Time
		if f == nil && !ordered {
			h.ordered[file.path] = false
			return nil
		}
		if f != nil {
			if err := f(r); err != nil {
				return err
			}
		}
	}
}

// sort reads the rest of a file and puts it in order.
func (h *History) sort(f *historyFile) error {
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
		if err == nil || errors.Is(err, io.EOF) {
			return r, err
		}
		row := badRow(err)
		if row == nil {
			return r, &home.Error{Op: "read history", Err: fmt.Errorf("%s line %d: %w", f.path, f.rows.Line(), err)}
		}
		if h.Skipped != nil {
			h.Skipped(f.path, row)
		}
	}
}

// badRow is err where it is of a row that cannot be used, nil where it is of the file.
func badRow(err error) *payload.RowError {
	var row *payload.RowError
	errors.As(err, &row)
	return row
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
