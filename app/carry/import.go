package carry

import (
	"bufio"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/payload"
	"weighbeam/store"
)

// Imported is what became of the rows of an import.
type Imported struct {
	home.Tally
	Rows      int
	Household bool   // one came in, in the place of that of the store
	Unknown   string // scales and cats that the household does not know, with commas
}

// Household says who lives in the house: the store does, or a household file.
type Household func(context.Context) (home.Household, error)

// importBatch is how many rows are committed together. What was committed is
// not read twice to any effect, so an import that was cut short is run again.
const importBatch = 2000

// Import takes the readings CSV and JSON-lines files at paths into the store. A row
// that cannot be used is set aside with its file and line, and told; the rest is
// used. Of a file that cannot be read the error tells, after all others were. who says, once all came in, who lives in the house. read is called with the
// number of bytes read.
func Import(ctx context.Context, db *store.DB, who Household, paths []string, now time.Time, told func(file string, line int, err error), read func(n int)) (Imported, error) {
	in := importer{db: db, house: who, now: now, told: told, who: map[home.Reading]bool{}}
	var unread []error
	for _, path := range paths {
		err := in.file(ctx, path, read)
		var of *fileError
		switch {
		case errors.As(err, &of):
			unread = append(unread, err)
		case err != nil:
			return in.done, err
		}
	}
	return in.done, errors.Join(append(unread, in.strangers(ctx))...)
}

// fileError is why one file cannot be read, or not to its end. It is nothing to others.
type fileError struct{ err error }

func (e *fileError) Error() string { return e.err.Error() }
func (e *fileError) Unwrap() error { return e.err }

// strangers says whom the household does not know of those who came in: such a scale's
// weights are given to the cats of the house, and such a cat is on no page.
func (in *importer) strangers(ctx context.Context) error {
	h, err := in.house(ctx)
	if err != nil {
		return err
	}
	unknown := map[string]bool{}
	for r := range in.who {
		if _, ok := h.Scale(r.Source); !ok && r.Source != home.Hand && r.Source != home.Clinic {
			unknown["scale "+r.Source] = true
		}
		if _, ok := h.Cat(r.Cat); !ok && r.Cat != "" {
			unknown["cat "+r.Cat] = true
		}
	}
	in.done.Unknown = strings.Join(slices.Sorted(maps.Keys(unknown)), ", ")
	return nil
}

// maxLine is how long a line of an export may be, in bytes.
const maxLine = 1<<20 + 2*home.MaxPhoto

type importer struct {
	db    *store.DB
	house Household
	now   time.Time
	told  func(file string, line int, err error)
	batch home.Batch
	who   map[home.Reading]bool // source and cat of what came in, nothing else
	done  Imported
}

func (in *importer) file(ctx context.Context, path string, read func(n int)) error {
	f, err := os.Open(path)
	if err != nil {
		return &fileError{&home.Error{Op: "import", Hint: "Give the path of a readings CSV or a JSON-lines export.", Err: err}}
	}
	defer f.Close()
	source := io.Reader(&counted{f, read})
	name := filepath.Base(path)
	if strings.HasSuffix(path, ".jsonl") {
		err = in.lines(ctx, name, source)
	} else {
		err = in.rows(ctx, name, source)
	}
	return cmp.Or(in.flush(ctx), err) // what came before an end that is not one is taken
}

func (in *importer) rows(ctx context.Context, name string, source io.Reader) error {
	return eachRow(name, source, in.now, func(r home.Reading) error {
		in.batch.Readings = append(in.batch.Readings, r)
		return in.row(ctx)
	}, func(line int, text string, err error) error {
		in.bad(name, line, []byte(text), err)
		return in.row(ctx)
	})
}

// eachRow hands on each row of a readings CSV: to take, or to bad where it cannot be used.
func eachRow(name string, source io.Reader, now time.Time, take func(home.Reading) error, bad func(line int, text string, err error) error) error {
	rows, err := payload.NewCSVReader(source)
	if err != nil {
		return &fileError{&home.Error{Op: "import", Err: fmt.Errorf("%s line %d: %w", name, 1, err)}}
	}
	for {
		r, err := rows.Read()
		if ahead := past(now, r.Time, r.Arrived); err == nil && ahead != nil {
			err = &payload.RowError{Line: rows.Line(), Err: ahead}
		}
		var wrong *payload.RowError
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case errors.As(err, &wrong):
			err = bad(wrong.Line, rows.Text(), wrong.Err)
		case err != nil:
			err = &fileError{&home.Error{Op: "import", Err: fmt.Errorf("%s line %d: %w", name, rows.Line(), err)}}
		default:
			err = take(r)
		}
		if err != nil {
			return err
		}
	}
}

func (in *importer) lines(ctx context.Context, name string, source io.Reader) error {
	lines := bufio.NewScanner(source)
	lines.Buffer(nil, maxLine)
	for n := 1; lines.Scan(); n++ {
		var l line
		err := json.Unmarshal(lines.Bytes(), &l)
		if err == nil {
			err = l.valid()
		}
		if err == nil {
			err = l.past(in.now)
		}
		if err == nil {
			err = in.take(ctx, l)
		}
		var failed *home.Error
		switch {
		case errors.As(err, &failed): // of the store
			return err
		case err != nil:
			in.bad(name, n, lines.Bytes(), err)
		}
		if err := in.row(ctx); err != nil {
			return err
		}
	}
	if err := lines.Err(); err != nil {
		return &fileError{&home.Error{Op: "import", Err: fmt.Errorf("%s: %w", name, err)}}
	}
	return nil
}

// past refuses what is dated after now: taken for true, it would put the clock of the
// house in doubt for as long as it is kept.
func past(now time.Time, dated ...time.Time) error {
	for _, at := range dated {
		if at.Sub(now) > payload.FutureTolerance {
			return fmt.Errorf("%s is in the future", at.UTC().Format(time.RFC3339))
		}
	}
	return nil
}

// take takes the one part of a line.
func (in *importer) take(ctx context.Context, l line) error {
	b := &in.batch
	switch {
	case l.Household != nil:
		in.done.Household = true
		return in.db.SetHousehold(ctx, *l.Household)
	case l.Calibration != nil:
		return in.db.Calibrate(ctx, *l.Calibration)
	case l.Reading != nil:
		b.Readings = append(b.Readings, *l.Reading)
	case l.Photo != nil:
		b.Photos = append(b.Photos, *l.Photo)
	case l.Check != nil:
		b.Checks = append(b.Checks, *l.Check)
	case l.Care != nil:
		b.Care = append(b.Care, *l.Care)
	case l.Correction != nil:
		return in.correct(ctx, *l.Correction)
	case l.Naming != nil:
		return in.db.ImportNaming(ctx, *l.Naming)
	case l.Reaction != nil:
		return in.db.ImportReaction(ctx, *l.Reaction)
	}
	return nil
}

// correct takes back what came before it in the file. A correction of what is not
// there, or that contradicts another, is a bad line.
func (in *importer) correct(ctx context.Context, c home.Correction) error {
	if err := in.flush(ctx); err != nil {
		return err
	}
	err := in.db.Correct(ctx, c, home.Batch{})
	for _, known := range []error{home.ErrNotFound, home.ErrCorrected} {
		if errors.Is(err, known) {
			return fmt.Errorf("correction of %s: %s", c.Target, known)
		}
	}
	return err
}

func (in *importer) bad(name string, n int, text []byte, err error) {
	in.told(name, n, err)
	in.batch.SetAside = append(in.batch.SetAside, home.SetAside{Arrived: in.now, Way: ingest.WayImport,
		Topic: home.RowOf(name, n), Payload: append([]byte(nil), text...), Reason: err.Error()})
}

// row counts a row and commits when there are enough.
func (in *importer) row(ctx context.Context) error {
	in.done.Rows++
	b := in.batch
	if len(b.Readings)+len(b.Checks)+len(b.Care)+len(b.SetAside)+importBatch/20*len(b.Photos) < importBatch {
		return ctx.Err()
	}
	return in.flush(ctx)
}

func (in *importer) flush(ctx context.Context) error {
	in.batch.Stored = in.now
	tally, err := in.db.Append(ctx, in.batch)
	if err != nil {
		return err
	}
	in.done.Tally = in.done.Add(tally)
	for _, r := range in.batch.Readings {
		in.who[home.Reading{Source: r.Source, Cat: r.Cat}] = true
	}
	for _, c := range in.batch.Checks {
		in.who[home.Reading{Source: home.Hand, Cat: c.Cat}] = true
	}
	in.batch = home.Batch{}
	return nil
}

// ExportCSV writes every reading of the store as readings CSV.
func ExportCSV(ctx context.Context, db *store.DB, w io.Writer) (n int, err error) {
	out := payload.NewCSVWriter(w)
	_, err = db.EachReading(ctx, func(r home.Reading) error {
		n++
		return cmp.Or(ctx.Err(), out.Write(r))
	})
	return n, cmp.Or(err, out.Flush())
}
