CREATE TABLE about (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE leaf (
  idx INTEGER PRIMARY KEY,
  case_id TEXT NOT NULL,
  revision INTEGER NOT NULL,
  kind TEXT NOT NULL,
  key_id TEXT NOT NULL,
  signed TEXT NOT NULL,
  statement BLOB NOT NULL,
  signature BLOB NOT NULL
);
CREATE UNIQUE INDEX leaf_case ON leaf (case_id, revision);
CREATE TABLE hash (idx INTEGER PRIMARY KEY, hash BLOB NOT NULL);
CREATE TABLE checkpoint (size INTEGER PRIMARY KEY, note TEXT NOT NULL);
CREATE TABLE pubkey (
  id TEXT PRIMARY KEY,
  key TEXT NOT NULL,
  name TEXT NOT NULL,
  role TEXT NOT NULL,
  valid_from TEXT NOT NULL,
  added_by TEXT NOT NULL,
  added INTEGER NOT NULL,
  revoked_at TEXT NOT NULL,
  revoked_by TEXT NOT NULL,
  revoked INTEGER NOT NULL,
  since TEXT NOT NULL,
  reason TEXT NOT NULL
);
CREATE TABLE casefile (
  case_id TEXT PRIMARY KEY,
  revision INTEGER NOT NULL,
  last_idx INTEGER NOT NULL,
  entry_idx INTEGER NOT NULL,
  entry_sha256 TEXT NOT NULL,
  state TEXT NOT NULL,
  amended INTEGER NOT NULL,
  date TEXT NOT NULL,
  eye TEXT NOT NULL,
  separation TEXT NOT NULL,
  events TEXT NOT NULL,
  signer TEXT NOT NULL,
  key_id TEXT NOT NULL,
  signed TEXT NOT NULL
);
CREATE INDEX casefile_date ON casefile (date DESC, case_id);
CREATE INDEX casefile_eye ON casefile (eye, date DESC, case_id);
CREATE INDEX casefile_separation ON casefile (separation, date DESC, case_id);
CREATE INDEX casefile_state ON casefile (state, date DESC, case_id);
CREATE INDEX casefile_signer ON casefile (signer, entry_idx DESC);
CREATE TABLE case_event (
  kind TEXT NOT NULL,
  date TEXT NOT NULL,
  case_id TEXT NOT NULL,
  PRIMARY KEY (kind, date, case_id)
) WITHOUT ROWID;
CREATE INDEX case_event_case ON case_event (case_id);
CREATE TABLE product (
  case_id TEXT NOT NULL,
  revision INTEGER NOT NULL,
  kind TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  PRIMARY KEY (case_id, revision, kind, sha256)
) WITHOUT ROWID;
CREATE TRIGGER leaf_stays BEFORE UPDATE ON leaf BEGIN SELECT RAISE(ABORT, 'a signed statement stays'); END;
CREATE TRIGGER leaf_kept BEFORE DELETE ON leaf BEGIN SELECT RAISE(ABORT, 'a signed statement is kept'); END;
CREATE TRIGGER hash_stays BEFORE UPDATE ON hash BEGIN SELECT RAISE(ABORT, 'a hash stays'); END;
CREATE TRIGGER hash_kept BEFORE DELETE ON hash BEGIN SELECT RAISE(ABORT, 'a hash is kept'); END;
CREATE TRIGGER checkpoint_stays BEFORE UPDATE ON checkpoint BEGIN SELECT RAISE(ABORT, 'a checkpoint stays'); END;
CREATE TRIGGER checkpoint_kept BEFORE DELETE ON checkpoint BEGIN SELECT RAISE(ABORT, 'a checkpoint is kept'); END;
