-- When each payload came that was set aside and is still to be read. A payload without a
-- time of its own is another reading each time, though it is the same to the letter.
CREATE TABLE set_aside_arrival (
  aside    INTEGER NOT NULL REFERENCES set_aside (id) ON DELETE CASCADE,
  at       INTEGER NOT NULL,
  retained INTEGER NOT NULL, -- it was a copy that a broker kept
  PRIMARY KEY (aside, at)
) WITHOUT ROWID, STRICT;
-- Of what came until now the first time and the last are known.
INSERT INTO set_aside_arrival (aside, at, retained) SELECT id, last, retained FROM set_aside WHERE latest = 0 AND settled = 0;
INSERT OR IGNORE INTO set_aside_arrival (aside, at, retained) SELECT id, first, retained FROM set_aside WHERE latest = 0 AND settled = 0;
