package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"

	"weighbeam/home"
)

//go:embed migrations/*.sql
var migrations embed.FS

// applicationID marks the file as ours: "WBEM".
const applicationID = 0x5742454d

// schemaVersion is the number of the newest migration.
func schemaVersion() int {
	names, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil {
		panic("store: " + err.Error()) // the pattern is a constant
	}
	return len(names)
}

// migrate brings the file forward to the newest schema, one transaction a step.
func migrate(ctx context.Context, db *sql.DB) error {
	var have, app, tables int
	if err := db.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&have); err != nil {
		return err
	}
	if err := db.QueryRowContext(ctx, `PRAGMA application_id`).Scan(&app); err != nil {
		return err
	}
	if err := db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema`).Scan(&tables); err != nil {
		return err
	}
	if (have > 0 || tables > 0) && app != applicationID { // many programs number no schema
		return home.Hinted("open store", "Choose another file: this one belongs to another program.", "not a weighbeam store")
	}
	want := schemaVersion()
	if have > want {
		return home.Hinted("open store", "Use the newer weighbeam that wrote it, or a backup from before.",
			"the file has schema %d, this program knows up to %d", have, want)
	}
	for v := have + 1; v <= want; v++ {
		if err := forward(ctx, db, v); err != nil {
			return fmt.Errorf("bring schema to %d: %w", v, err)
		}
	}
	return nil
}

func forward(ctx context.Context, db *sql.DB, version int) error {
	text, err := migrations.ReadFile(fmt.Sprintf("migrations/%04d.sql", version))
	if err != nil {
		return err
	}
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // a no-op once committed
	if _, err := tx.ExecContext(ctx, string(text)); err != nil {
		return err
	}
	// Pragmas take no parameters; both numbers are our own.
	if _, err := tx.ExecContext(ctx, fmt.Sprintf(`PRAGMA user_version = %d; PRAGMA application_id = %d`, version, applicationID)); err != nil {
		return err
	}
	return tx.Commit()
}
