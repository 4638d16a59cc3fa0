package carry

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// heldMost is how many rows are held of files together, so as not to read them twice:
// some 50 MB. Only a file that is not in time order is held whole, however long it is.
const heldMost = 1 << 20

// known is what is known of a file that was read through.
type known struct {
	ordered bool  // its times never go back
	held    *held // its rows; nil where they were too many, or were read already
}

// Scan calls f for every reading of the files at paths as they stand, and spares Each
// to look whether they are in time order, and to read again what was short enough to be
// held.
func (h *History) Scan(paths []string, f func(home.Reading) error) error {
	for _, path := range paths {
		if _, err := h.scan(path, h.left(), f); err != nil {
			return err
		}
	}
	return nil
}

// left is how many more rows may be held.
func (h *History) left() int {
	room := cmp.Or(h.room, heldMost)
	for _, k := range h.known {
		if k.held != nil {
			room -= k.held.n
		}
	}
	return room
}

// scan reads a file through, calls f for each reading, and holds the
// rows unless they are more than room.
func (h *History) scan(path string, room int, f func(home.Reading) error) (*known, error) {
	file, err := h.csv(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	k := &known{ordered: true, held: newHeld()}
	var last time.Time
	for {
		r, err := file.Read()
		bad := badRow(err)
		switch {
		case errors.Is(err, io.EOF):
			h.know(path, k, file.read)
			return k, nil
		case bad != nil:
		case err != nil:
			return nil, err
		default:
			k.ordered, last = k.ordered && !r.Time.Before(last), r.Time
			if err := f(r); err != nil {
				return nil, err
			}
		}
		k.hold(r, bad, room)
	}
}

// hold keeps one more row, unless there are too many.
func (k *known) hold(r home.Reading, bad *payload.RowError, room int) {
	switch {
	case k.held == nil:
	case k.ordered && k.held.n >= room:
		k.held = nil
	case bad != nil:
		k.held.skip(bad)
	default:
		k.held.add(r)
	}
}

// know keeps what is known of a file of so many bytes.
func (h *History) know(path string, k *known, bytes int) {
	if h.known == nil {
		h.known = map[string]*known{}
	}
	h.known[path] = k
	if k.held != nil && k.held.n > 0 {
		share := bytes / len(k.held.parts)
		k.held.given = func() { h.tell(share) }
	}
}

// csvFile is a file that is read row by row.
type csvFile struct {
	file *os.File
	rows *payload.CSVReader
	read int // bytes
}

// csv opens a file at its first row.
func (h *History) csv(path string) (*csvFile, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, &home.Error{Op: "read history", Hint: "Give the path of a readings CSV.", Err: err}
	}
	f := &csvFile{file: file}
	if f.rows, err = payload.NewCSVReader(&counted{file, func(n int) { f.read += n; h.tell(n) }}); err != nil {
		file.Close()
		return nil, &home.Error{Op: "read history", Err: fmt.Errorf("%s line %d: %w", path, 1, err)}
	}
	return f, nil
}

func (h *History) tell(n int) {
	if h.Read != nil {
		h.Read(n)
	}
}

// Read gives the next row.
func (f *csvFile) Read() (home.Reading, error) {
	r, err := f.rows.Read()
	if err == nil || errors.Is(err, io.EOF) || badRow(err) != nil {
		return r, err
	}
	return r, &home.Error{Op: "read history", Err: fmt.Errorf("%s line %d: %w", f.file.Name(), f.rows.Line(), err)}
}

func (f *csvFile) Close() error { return f.file.Close() }

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
