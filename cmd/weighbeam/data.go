package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/mattn/go-isatty"
	"github.com/schollz/progressbar/v3"

	"weighbeam/app"
	"weighbeam/app/carry"
	"weighbeam/home"
	"weighbeam/store"
)

// where says which store a command works on.
type where struct {
	Config string `help:"Settings file that names the store." type:"path" placeholder:"FILE"`
	Data   string `help:"The store itself, in place of the one that the settings name." type:"path" placeholder:"FILE"`
}

func (w where) path() (string, error) {
	if w.Data != "" {
		return w.Data, nil
	}
	if w.Config == "" {
		return app.Defaults().Data, nil
	}
	cfg, err := app.ReadConfig(w.Config)
	return cfg.Data, err
}

// open opens the store for this command alone.
func (w where) open(ctx context.Context) (*store.DB, error) {
	path, err := w.path()
	if err != nil {
		return nil, err
	}
	return store.Open(ctx, path)
}

// peek opens the store for reading, also while weighbeam runs.
func (w where) peek(ctx context.Context) (*store.DB, error) {
	path, err := w.path()
	if err != nil {
		return nil, err
	}
	return store.Peek(ctx, path)
}

type importCmd struct {
	where
	Files []string `arg:"" optional:"" help:"Readings CSV, or a JSON-lines export (.jsonl)." type:"existingfile" name:"file"`
	historyFlags
}

func (c importCmd) Run(ctx context.Context, t terminal) error {
	switch {
	case (c.Influx == "") == (len(c.Files) == 0):
		return home.Hinted("import", "Name files, or a query with --influx.", "it is not said what to import")
	case c.JSON && !c.DryRun:
		return home.Hinted("import", "Add --dry-run, or leave it out.", "--json goes with --dry-run only")
	case c.Influx == "":
		if err := c.forFiles(); err != nil {
			return err
		}
	}
	switch {
	case c.DryRun:
		return c.survey(ctx, t)
	case c.Influx != "":
		return c.fromEngine(ctx, t)
	}
	return c.fromFiles(ctx, t)
}

// alone opens the store, or says how to bring readings in while weighbeam runs.
func (c importCmd) alone(ctx context.Context) (*store.DB, error) {
	db, err := c.open(ctx)
	if store.InUse(err) {
		return nil, home.Hinted("import", "Stop weighbeam first. While it runs, it takes readings CSV over HTTP, at /api/v1/readings.", "%v", err)
	}
	return db, err
}

func (c importCmd) fromFiles(ctx context.Context, t terminal) error {
	db, err := c.alone(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	cfg, err := change{where: c.where}.settings()
	if err != nil {
		return err
	}
	bar := progress(t.err, "importing", c.Files, 1)
	bad := 0
	done, err := carry.Import(ctx, db, lives(cfg, db), c.Files, time.Now(), c.toldOf(t, &bad), func(n int) { _ = bar.Add(n) }) // a bar that cannot be drawn is no error
	_ = bar.Finish()
	if err := imported(t, done, err); err != nil || !done.Household {
		return err
	}
	return undone(ctx, t, cfg, db)
}

// lives says who lives in the house: a household file decides at each start.
func lives(cfg app.Config, db *store.DB) carry.Household {
	if cfg.Household == "" {
		return db.Household
	}
	return func(context.Context) (home.Household, error) { return app.ReadHousehold(cfg.Household) }
}

// undone says that a household file, which decides at each start, does not know what the
// household that came in does.
func undone(ctx context.Context, t terminal, cfg app.Config, db *store.DB) error {
	if cfg.Household == "" {
		fmt.Fprintln(t.out, "A household came in, and the store keeps it. Where weighbeam is started with a household file, that file holds instead.")
		return nil
	}
	gone, err := app.UndoneBy(ctx, db, cfg.Household)
	if err != nil || len(gone) == 0 {
		return err
	}
	fmt.Fprintf(t.out, "A household came in, and %s, which decides at each start, takes back of it: %s. Write into the file what should hold, or take the key household out of the settings.\n",
		cfg.Household, strings.Join(gone, "; "))
	return nil
}

// toldOf says of the first lines that cannot be used why not, and counts all.
func (c importCmd) toldOf(t terminal, bad *int) func(file string, n int, err error) {
	return func(file string, n int, err error) {
		if *bad++; *bad <= shown {
			fmt.Fprintf(t.err, "%s line %d: %v\n", file, n, err)
		}
	}
}

// imported says what became of an import.
func imported(t terminal, done carry.Imported, err error) error {
	fmt.Fprintf(t.out, "%d rows: %d stored, %d already there, %d set aside", done.Rows, done.Stored, done.Duplicate, done.SetAside)
	if other := done.Rows - done.Received(); other > 0 { // of a JSON-lines export
		fmt.Fprintf(t.out, ", %d of the household and of what people said of it", other)
	}
	fmt.Fprintln(t.out, ".")
	if done.SetAside > 0 {
		fmt.Fprintln(t.out, "'weighbeam aside' lists what was set aside. Mend it and import it again; then 'weighbeam dismiss FILE' lets those rows go.")
	}
	if done.Unknown != "" {
		fmt.Fprintf(t.out, "The household does not know: %s. What such a scale weighed is given to the cats of this house, and such a cat is on no page, until you add them.\n", done.Unknown)
	}
	if err != nil && done.Rows > 0 {
		fmt.Fprintln(t.out, "It was cut short. Mend what is said below and run it again: nothing is taken twice.")
	}
	return err
}

type exportCmd struct {
	where
	To string `help:"File to write, .csv for readings or .jsonl for everything; without it, readings CSV to standard output." type:"path" placeholder:"FILE"`
}

func (c exportCmd) Run(ctx context.Context, t terminal) (err error) {
	db, err := c.peek(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	if c.To == "" {
		_, err := carry.ExportCSV(ctx, db, t.out)
		return err
	}
	f, err := os.OpenFile(c.To, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = firstError(err, f.Close()) }()
	write := carry.ExportCSV
	if strings.HasSuffix(c.To, ".jsonl") {
		write = carry.ExportLines
	}
	n, err := write(ctx, db, f)
	if err != nil {
		return err
	}
	fmt.Fprintf(t.out, "Wrote %d lines to %s.\n", n, c.To)
	return f.Sync()
}

type backupCmd struct {
	where
	To  string `arg:"" help:"File to write." type:"path" name:"to"`
	For string `help:"Encrypt it for the holder of this age public key." placeholder:"age1..."`
}

func (c backupCmd) Run(ctx context.Context, t terminal) error {
	path, err := c.path()
	if err != nil {
		return err
	}
	if c.For != "" {
		err = store.SealedBackup(ctx, path, c.To, c.For)
	} else {
		err = store.Backup(ctx, path, c.To)
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(t.out, "Backed up %s to %s, and read it through.\n", path, c.To)
	return nil
}

type restoreCmd struct {
	where
	From     string `arg:"" help:"Backup to put in the place of the store." type:"existingfile" name:"from"`
	Identity string `help:"File with the age key of an encrypted backup." type:"existingfile" placeholder:"FILE"`
}

func (c restoreCmd) Run(ctx context.Context, t terminal) error {
	path, err := c.path()
	if err != nil {
		return err
	}
	from := c.From
	if store.Sealed(from) {
		from = path + ".plain"
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			return err
		}
		defer os.Remove(from)
		if err := store.Unseal(c.From, c.Identity, from); err != nil {
			return err
		}
	}
	aside, err := store.Restore(ctx, from, path, time.Now())
	if err != nil {
		return err
	}
	fmt.Fprintf(t.out, "Restored %s from %s.\n", path, c.From)
	if aside != "" {
		fmt.Fprintf(t.out, "What was there is now %s.\n", filepath.Base(aside))
	}
	return nil
}

// progress is a bar over the bytes of files on a terminal, and nothing elsewhere.
func progress(w io.Writer, what string, files []string, passes int64) *progressbar.ProgressBar {
	var total int64
	for _, path := range files {
		if info, err := os.Stat(path); err == nil {
			total += passes * info.Size()
		}
	}
	if f, ok := w.(*os.File); !ok || !isatty.IsTerminal(f.Fd()) {
		return progressbar.NewOptions64(total, progressbar.OptionSetVisibility(false))
	}
	return progressbar.NewOptions64(total, progressbar.OptionSetWriter(w), progressbar.OptionShowBytes(true),
		progressbar.OptionSetDescription(what), progressbar.OptionClearOnFinish())
}
