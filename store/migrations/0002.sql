-- What was answered to requests that carried an Idempotency-Key, the newest of them.
CREATE TABLE answer (
  id      INTEGER PRIMARY KEY,
  key     BLOB NOT NULL UNIQUE,
  request BLOB NOT NULL, -- hash of what was sent
  status  INTEGER NOT NULL,
  type    TEXT NOT NULL,
  body    BLOB NOT NULL
) STRICT;

-- Passwords, and addresses that hold tokens, of those who are told, by the contact's id.
CREATE TABLE secret (
  contact TEXT PRIMARY KEY,
  body    TEXT NOT NULL
) WITHOUT ROWID, STRICT;
