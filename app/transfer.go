package app

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
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
	Rows int
}

// importBatch is how many rows are committed together. What was committed is
// not read twice to any effect, so an import that was cut short is run again.
const importBatch = 2000

// Import takes the readings CSV and JSON-lines files at paths into the store. A row
// that cannot be used is set aside with its file and line, and told; the rest is
// used. read is called with the number of bytes read.
func Import(ctx context.Context, db *store.DB, paths []string, now time.Time, told func(file string, line int, err error), read func(n int)) (Imported, error) {
	in := importer{db: db, now: now, told: told}
	for _, path := range paths {
		if err := in.file(ctx, path, read); err != nil {
			return in.done, err
		}
	}
	return in.done, nil
}

// maxLine is how long a line of an export may be, in bytes.
const maxLine = 1 << 20

type importer struct {
	db    *store.DB
	now   time.Time
	told  func(file string, line int, err error)
	batch home.Batch
	done  Imported
}

func (in *importer) file(ctx context.Context, path string, read func(n int)) error {
	f, err := os.Open(path)
	if err != nil {
		return &home.Error{Op: "import", Hint: "Give the path of a readings CSV or a JSON-lines export.", Err: err}
	}
	defer f.Close()
	source := io.Reader(&counted{f, read})
	name := filepath.Base(path)
	if strings.HasSuffix(path, ".jsonl") {
		err = in.lines(ctx, name, source)
	} else {
		err = in.rows(ctx, name, source)
	}
	return firstOf(err, in.flush(ctx))
}

func (in *importer) rows(ctx context.Context, name string, source io.Reader) error {
	rows, err := payload.NewCSVReader(source)
	if err != nil {
		return &home.Error{Op: "import", Err: &located{file: name, line: 1, err: err}}
	}
	for {
		r, err := rows.Read()
		var bad *payload.RowError
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case errors.As(err, &bad):
			in.bad(name, bad.Line, nil, bad.Err)
		case err != nil:
			return &home.Error{Op: "import", Err: &located{file: name, line: rows.Line(), err: err}}
		default:
			in.batch.Readings = append(in.batch.Readings, r)
		}
		if err := in.row(ctx); err != nil {
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
		switch {
		case err != nil:
			in.bad(name, n, lines.Bytes(), err)
		case l.Reading != nil:
			in.batch.Readings = append(in.batch.Readings, *l.Reading)
		case l.Check != nil:
			in.batch.Checks = append(in.batch.Checks, *l.Check)
		case l.Household != nil:
			if err := in.db.SetHousehold(ctx, *l.Household); err != nil {
				return err
			}
		case l.Calibration != nil:
			if err := in.db.Calibrate(ctx, *l.Calibration); err != nil {
				return err
			}
		}
		if err := in.row(ctx); err != nil {
			return err
		}
	}
	return lines.Err()
}

func (in *importer) bad(name string, n int, text []byte, err error) {
	in.told(name, n, err)
	in.batch.SetAside = append(in.batch.SetAside, home.SetAside{Arrived: in.now, Way: ingest.WayImport,
		Topic: fmt.Sprintf("%s line %d", name, n), Payload: append([]byte(nil), text...), Reason: err.Error()})
}

// row counts a row and commits when there are enough.
func (in *importer) row(ctx context.Context) error {
	in.done.Rows++
	if len(in.batch.Readings)+len(in.batch.Checks)+len(in.batch.SetAside) < importBatch {
		return ctx.Err()
	}
	return in.flush(ctx)
}

func (in *importer) flush(ctx context.Context) error {
	tally, err := in.db.Append(ctx, in.batch)
	if err != nil {
		return err
	}
	in.done.Tally = in.done.Add(tally)
	in.batch = home.Batch{}
	return nil
}

// ExportCSV writes every reading of the store as readings CSV.
func ExportCSV(ctx context.Context, db *store.DB, w io.Writer) (n int, err error) {
	out := payload.NewCSVWriter(w)
	_, err = db.EachReading(ctx, func(r home.Reading) error {
		n++
		return firstOf(ctx.Err(), out.Write(r))
	})
	return n, firstOf(err, out.Flush())
}

// ExportLines writes everything that devices and people said as JSON lines: the
// household, how true the scales are, then readings in time order, then home checks.
func ExportLines(ctx context.Context, db *store.DB, w io.Writer) (n int, err error) {
	buf := bufio.NewWriter(w)
	enc := json.NewEncoder(buf)
	h, err := db.Household(ctx)
	if err != nil {
		return 0, err
	}
	if err := enc.Encode(line{Household: &h}); err != nil {
		return 0, err
	}
	calibrations, err := db.Calibrations(ctx, "")
	if err != nil {
		return 0, err
	}
	for i := range calibrations {
		n++
		if err := enc.Encode(line{Calibration: &calibrations[i]}); err != nil {
			return n, err
		}
	}
	// A check carries its own readings; written with it, they are not written twice.
	checks, own, err := allChecks(ctx, db, h)
	if err != nil {
		return n, err
	}
	_, err = db.EachReading(ctx, func(r home.Reading) error {
		if own[r] {
			return nil
		}
		n++
		return firstOf(ctx.Err(), enc.Encode(line{Reading: &r}))
	})
	for i := 0; i < len(checks) && err == nil; i++ {
		n++
		err = enc.Encode(line{Check: &checks[i]})
	}
	return n, firstOf(err, buf.Flush())
}

func allChecks(ctx context.Context, db *store.DB, h home.Household) ([]home.HomeCheck, map[home.Reading]bool, error) {
	var all []home.HomeCheck
	own := map[home.Reading]bool{}
	for _, c := range h.Cats {
		checks, err := db.Checks(ctx, c.ID, time.Time{}, time.Time{})
		if err != nil {
			return nil, nil, err
		}
		for _, check := range checks {
			for _, r := range check.Readings {
				own[r] = true
			}
		}
		all = append(all, checks...)
	}
	return all, own, nil
}

func firstOf(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
