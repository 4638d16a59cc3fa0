package store

import "context"

// slugs are the rows of the slug table both ways: readings hold their numbers, and to
// join the table costs as much again as the reading.
type slugs struct {
	ids   map[string]int64
	texts map[int64]string
}

func newSlugs() slugs {
	return slugs{ids: map[string]int64{"": 0}, texts: map[int64]string{0: ""}}
}

func (s slugs) add(text string, id int64) { s.ids[text], s.texts[id] = id, text }

func (w *work) slug(text string) (int64, error) {
	if id, ok := w.db.known(text); ok {
		return id, nil
	}
	if id, ok := w.slugs[text]; ok {
		return id, nil
	}
	res, err := w.ExecContext(w.ctx, `INSERT INTO slug (text) VALUES (?)`, text)
	if err != nil {
		return 0, err
	}
	id, err := res.LastInsertId()
	if err != nil {
		return 0, err
	}
	if w.slugs == nil {
		w.slugs = map[string]int64{}
	}
	w.slugs[text] = id
	return id, nil
}

// known returns the row of a slug, or false where nothing was ever stored under it.
func (db *DB) known(text string) (int64, bool) {
	db.mu.Lock()
	defer db.mu.Unlock()
	id, ok := db.slugs.ids[text]
	return id, ok
}

// text is what row id of the slug table says.
func (db *DB) text(ctx context.Context, id int64) (string, error) {
	db.mu.Lock()
	text, ok := db.slugs.texts[id]
	db.mu.Unlock()
	if ok {
		return text, nil
	}
	// Another process has the store and added it after this one opened it to read.
	if err := db.read.QueryRowContext(ctx, `SELECT text FROM slug WHERE id = ?`, id).Scan(&text); err != nil {
		return "", err
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	db.slugs.add(text, id)
	return text, nil
}
