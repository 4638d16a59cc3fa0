-- Times are microseconds since 1970-01-01 UTC.

-- Slugs of sources and cats, so that a reading holds small numbers. Row 0 is "nobody".
CREATE TABLE slug (
  id   INTEGER PRIMARY KEY,
  text TEXT NOT NULL UNIQUE
) STRICT;
INSERT INTO slug (id, text) VALUES (0, '');

-- The truth: what devices and people reported. The cat is part of the identity
-- because a person may enter two cats for the same minute.
CREATE TABLE reading (
  source   INTEGER NOT NULL REFERENCES slug (id),
  quantity INTEGER NOT NULL, -- codes in codes.go
  at       INTEGER NOT NULL,
  seq      INTEGER NOT NULL,
  cat      INTEGER NOT NULL REFERENCES slug (id),
  value    REAL NOT NULL,
  sd       REAL,
  lag      INTEGER NOT NULL, -- arrival minus at
  clock    INTEGER NOT NULL,
  retained INTEGER,
  window   INTEGER,
  state    TEXT,
  note     TEXT,
  home_check TEXT,
  correction TEXT, -- that took it back: no stage sees it any more
  PRIMARY KEY (source, quantity, at, seq, cat)
) WITHOUT ROWID, STRICT;
-- A device without a clock is known by its sequence number, see numbered in append.go.
CREATE INDEX reading_numbered ON reading (source, quantity, seq) WHERE clock = 2 AND seq <> 0;
CREATE INDEX reading_of_cat ON reading (cat, quantity, at) WHERE cat > 0;
CREATE INDEX reading_of_check ON reading (home_check) WHERE home_check IS NOT NULL;

-- What there is of each source and quantity, so that nobody has to count.
CREATE TABLE series (
  source   INTEGER NOT NULL REFERENCES slug (id),
  quantity INTEGER NOT NULL,
  n        INTEGER NOT NULL,
  first    INTEGER NOT NULL,
  last     INTEGER NOT NULL,
  arrived  INTEGER NOT NULL, -- newest arrival
  PRIMARY KEY (source, quantity)
) WITHOUT ROWID, STRICT;

CREATE TABLE home_check (
  id        TEXT PRIMARY KEY,
  cat       INTEGER NOT NULL REFERENCES slug (id),
  at        INTEGER NOT NULL,
  by_whom   TEXT NOT NULL,
  note      TEXT NOT NULL,
  red_flags TEXT NOT NULL, -- JSON array
  parts     TEXT NOT NULL, -- JSON: what was seen, lumps, what was given, names of photos
  correction TEXT -- that took it back
) WITHOUT ROWID, STRICT;
CREATE INDEX home_check_of_cat ON home_check (cat, at);

-- Pictures that go with home checks, named by what is in them.
CREATE TABLE photo (
  id     TEXT PRIMARY KEY,
  width  INTEGER NOT NULL,
  height INTEGER NOT NULL,
  jpeg   BLOB NOT NULL
) STRICT;

-- What was done with or for a cat, as its people say.
CREATE TABLE care (
  id     TEXT PRIMARY KEY,
  cat    INTEGER NOT NULL REFERENCES slug (id),
  start  INTEGER NOT NULL,
  finish INTEGER, -- NULL where it goes on; start where it is of one moment
  body   TEXT NOT NULL, -- JSON of home.Care
  correction TEXT -- that took it back
) WITHOUT ROWID, STRICT;
CREATE INDEX care_of_cat ON care (cat, start);

-- What people corrected of what they had entered. What was corrected stays.
CREATE TABLE correction (
  id          TEXT PRIMARY KEY,
  cat         INTEGER NOT NULL REFERENCES slug (id),
  matter      TEXT NOT NULL,
  target      TEXT NOT NULL,
  replacement TEXT NOT NULL, -- empty for nothing
  at          INTEGER NOT NULL,
  by_whom     TEXT NOT NULL,
  why         TEXT NOT NULL,
  UNIQUE (matter, target)
) WITHOUT ROWID, STRICT;

-- What could not be read. The same payload on the same topic is one row with a
-- count; of a topic that nobody claims only the newest payload is kept.
CREATE TABLE set_aside (
  id      INTEGER PRIMARY KEY AUTOINCREMENT,
  way     TEXT NOT NULL,
  topic   TEXT NOT NULL,
  payload BLOB NOT NULL,
  digest  BLOB NOT NULL, -- SHA-256 of payload
  reason  TEXT NOT NULL,
  first   INTEGER NOT NULL,
  last    INTEGER NOT NULL,
  times   INTEGER NOT NULL DEFAULT 1,
  latest  INTEGER NOT NULL DEFAULT 0, -- only the newest payload of this topic is kept
  retained INTEGER NOT NULL DEFAULT 0, -- the newest was a copy that a broker kept
  cut     INTEGER NOT NULL DEFAULT 0, -- only the beginning of the payload is kept
  settled INTEGER NOT NULL DEFAULT 0 -- it was tried again and read, in the transaction that stored its readings
) STRICT;
CREATE UNIQUE INDEX set_aside_once ON set_aside (topic, digest, reason) WHERE latest = 0 AND settled = 0;
CREATE UNIQUE INDEX set_aside_latest ON set_aside (way, topic) WHERE latest = 1 AND settled = 0;
CREATE INDEX set_aside_last ON set_aside (last) WHERE settled = 0;

-- What changed, in the order of commits; the stages that derive things follow it.
CREATE TABLE journal (
  id       INTEGER PRIMARY KEY AUTOINCREMENT,
  kind     TEXT NOT NULL, -- reading, visit, check, care, household, naming
  source   TEXT NOT NULL,
  cat      TEXT NOT NULL,
  quantity TEXT NOT NULL,
  first    INTEGER NOT NULL,
  last     INTEGER NOT NULL,
  n        INTEGER NOT NULL
) STRICT;
CREATE TABLE cursor (
  name    TEXT PRIMARY KEY,
  journal INTEGER NOT NULL,
  tick    INTEGER NOT NULL
) WITHOUT ROWID, STRICT;

-- Where the making of visits can go on from, once the load before it is gone.
CREATE TABLE checkpoint (
  source INTEGER PRIMARY KEY REFERENCES slug (id),
  at     INTEGER NOT NULL,
  state  BLOB NOT NULL,
  gain   REAL, -- of the calibration that state was made with
  base   REAL  -- kg, its offset
) STRICT;

-- Known masses that people put on a scale, and the line through them. Truth, like
-- readings: rows are added, never changed.
CREATE TABLE calibration (
  source  INTEGER NOT NULL REFERENCES slug (id),
  at      INTEGER NOT NULL, -- when it was made
  applies INTEGER NOT NULL, -- to loads from then on
  body    TEXT NOT NULL,    -- JSON of home.Calibration
  PRIMARY KEY (source, at)
) WITHOUT ROWID, STRICT;

-- Derived from readings; may be made again at any time.
CREATE TABLE visit (
  source     INTEGER NOT NULL REFERENCES slug (id),
  start      INTEGER NOT NULL,
  finish     INTEGER NOT NULL,
  event      TEXT NOT NULL,
  mass       REAL,
  sd         REAL,
  remains    REAL, -- g left behind
  remains_sd REAL,
  quality    REAL NOT NULL,
  reasons    TEXT NOT NULL, -- JSON array
  cat        INTEGER NOT NULL REFERENCES slug (id),
  confidence REAL NOT NULL,
  whose      TEXT NOT NULL,
  gain       REAL, -- of the calibration that it was made with
  span       REAL, -- kg, the part of sd that this brought
  crept      REAL, -- g, by how much the empty scale had moved by itself
  PRIMARY KEY (source, start)
) WITHOUT ROWID, STRICT;
CREATE INDEX visit_of_cat ON visit (cat, finish) WHERE cat > 0;
-- The cats that a visit may be of.
CREATE TABLE visit_share (
  source INTEGER NOT NULL,
  start  INTEGER NOT NULL,
  cat    INTEGER NOT NULL REFERENCES slug (id),
  p      REAL NOT NULL,
  finish INTEGER NOT NULL, -- of the visit
  PRIMARY KEY (source, start, cat),
  FOREIGN KEY (source, start) REFERENCES visit (source, start) ON DELETE CASCADE
) WITHOUT ROWID, STRICT;
CREATE INDEX visit_share_of_cat ON visit_share (cat, finish);

CREATE TABLE finding (
  id      TEXT PRIMARY KEY,
  subject TEXT NOT NULL,
  sign    TEXT NOT NULL,
  raised  INTEGER NOT NULL,
  closed  INTEGER, -- NULL while open
  body    TEXT NOT NULL -- JSON of home.Finding
) WITHOUT ROWID, STRICT;
CREATE INDEX finding_raised ON finding (raised);
-- Every turn with what was known at that moment; rows are never changed.
CREATE TABLE finding_turn (
  finding TEXT NOT NULL REFERENCES finding (id),
  n       INTEGER NOT NULL,
  turn    TEXT NOT NULL,
  at      INTEGER NOT NULL,
  body    TEXT NOT NULL,
  PRIMARY KEY (finding, n)
) WITHOUT ROWID, STRICT;

CREATE TABLE notice (
  id       TEXT PRIMARY KEY,
  finding  TEXT REFERENCES finding (id), -- NULL where it tells of many, as a digest does
  turn     TEXT NOT NULL,
  urgency  TEXT NOT NULL,
  channel  TEXT NOT NULL,
  subject  TEXT NOT NULL,
  body     TEXT NOT NULL,
  created  INTEGER NOT NULL,
  state    TEXT NOT NULL,
  reason   TEXT NOT NULL,
  attempts INTEGER NOT NULL,
  due      INTEGER,
  sent     INTEGER,
  decided  INTEGER -- NULL: at created
) WITHOUT ROWID, STRICT;
CREATE INDEX notice_due ON notice (due) WHERE state = 'waiting';
CREATE INDEX notice_of_finding ON notice (finding);

-- Every decision about a notice, as it was made; rows are never changed.
CREATE TABLE notice_step (
  notice TEXT NOT NULL REFERENCES notice (id),
  n      INTEGER NOT NULL,
  at     INTEGER NOT NULL,
  state  TEXT NOT NULL,
  reason TEXT NOT NULL,
  due    INTEGER,
  PRIMARY KEY (notice, n)
) WITHOUT ROWID, STRICT;

-- When each channel last took a message, and when it last did not.
CREATE TABLE channel (
  name   TEXT PRIMARY KEY,
  took   INTEGER,
  failed INTEGER,
  since  INTEGER,
  why    TEXT NOT NULL
) WITHOUT ROWID, STRICT;

-- Who is signed in to the pages, by the hash of the token in the browser's cookie.
CREATE TABLE session (
  hash  TEXT PRIMARY KEY,
  body  BLOB NOT NULL,
  until INTEGER NOT NULL
) WITHOUT ROWID, STRICT;

-- By which push services know this house (RFC 8292), and the browsers that want to be told.
CREATE TABLE push_key (
  id      INTEGER PRIMARY KEY CHECK (id = 1),
  private TEXT NOT NULL,
  public  TEXT NOT NULL
) STRICT;
CREATE TABLE push_subscription (
  endpoint TEXT PRIMARY KEY,
  channel  TEXT NOT NULL,
  key      TEXT NOT NULL,
  auth     TEXT NOT NULL,
  added    INTEGER NOT NULL
) WITHOUT ROWID, STRICT;

-- Who lives in the house: one row, JSON of home.Household.
CREATE TABLE household (
  id   INTEGER PRIMARY KEY CHECK (id = 1),
  body TEXT NOT NULL
) STRICT;

-- What people said: whose a visit was, and about a finding. Truth, like readings.
CREATE TABLE naming (
  source  INTEGER NOT NULL REFERENCES slug (id),
  start   INTEGER NOT NULL,
  cat     INTEGER NOT NULL REFERENCES slug (id), -- 0: somebody who does not live here
  by_whom TEXT NOT NULL,
  at      INTEGER NOT NULL,
  PRIMARY KEY (source, start)
) WITHOUT ROWID, STRICT;
CREATE TABLE reaction (
  id      TEXT PRIMARY KEY,
  finding TEXT NOT NULL, -- id; what was imported is there before the finding is made again
  kind    TEXT NOT NULL,
  at      INTEGER NOT NULL,
  until   INTEGER,
  by_whom TEXT NOT NULL,
  note    TEXT NOT NULL
) WITHOUT ROWID, STRICT;
CREATE INDEX reaction_to ON reaction (finding, at);
