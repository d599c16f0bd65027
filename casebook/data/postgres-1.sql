CREATE TABLE about (name TEXT COLLATE "C" PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE leaf (
  idx BIGINT PRIMARY KEY,
  case_id TEXT COLLATE "C" NOT NULL,
  revision BIGINT NOT NULL,
  kind TEXT COLLATE "C" NOT NULL,
  key_id TEXT COLLATE "C" NOT NULL,
  signed TEXT COLLATE "C" NOT NULL,
  statement BYTEA NOT NULL,
  signature BYTEA NOT NULL
);
CREATE UNIQUE INDEX leaf_case ON leaf (case_id, revision);
CREATE TABLE hash (idx BIGINT PRIMARY KEY, hash BYTEA NOT NULL);
CREATE TABLE checkpoint (size BIGINT PRIMARY KEY, note TEXT COLLATE "C" NOT NULL);
CREATE TABLE pubkey (
  id TEXT COLLATE "C" PRIMARY KEY,
  key TEXT COLLATE "C" NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  role TEXT COLLATE "C" NOT NULL,
  valid_from TEXT COLLATE "C" NOT NULL,
  added_by TEXT COLLATE "C" NOT NULL,
  added BIGINT NOT NULL,
  revoked_at TEXT COLLATE "C" NOT NULL,
  revoked_by TEXT COLLATE "C" NOT NULL,
  revoked BIGINT NOT NULL,
  since TEXT COLLATE "C" NOT NULL,
  reason TEXT COLLATE "C" NOT NULL
);
CREATE TABLE casefile (
  case_id TEXT COLLATE "C" PRIMARY KEY,
  revision BIGINT NOT NULL,
  last_idx BIGINT NOT NULL,
  entry_idx BIGINT NOT NULL,
  entry_sha256 TEXT COLLATE "C" NOT NULL,
  state TEXT COLLATE "C" NOT NULL,
  amended BIGINT NOT NULL,
  date TEXT COLLATE "C" NOT NULL,
  eye TEXT COLLATE "C" NOT NULL,
  separation TEXT COLLATE "C" NOT NULL,
  events TEXT COLLATE "C" NOT NULL,
  signer TEXT COLLATE "C" NOT NULL,
  key_id TEXT COLLATE "C" NOT NULL,
  signed TEXT COLLATE "C" NOT NULL
);
CREATE INDEX casefile_date ON casefile (date DESC, case_id);
CREATE INDEX casefile_eye ON casefile (eye, date DESC, case_id);
CREATE INDEX casefile_separation ON casefile (separation, date DESC, case_id);
CREATE INDEX casefile_state ON casefile (state, date DESC, case_id);
CREATE INDEX casefile_signer ON casefile (signer, entry_idx DESC);
CREATE TABLE case_event (
  kind TEXT COLLATE "C" NOT NULL,
  date TEXT COLLATE "C" NOT NULL,
  case_id TEXT COLLATE "C" NOT NULL,
  PRIMARY KEY (kind, date, case_id)
);
CREATE INDEX case_event_case ON case_event (case_id);
CREATE TABLE product (
  case_id TEXT COLLATE "C" NOT NULL,
  revision BIGINT NOT NULL,
  kind TEXT COLLATE "C" NOT NULL,
  sha256 TEXT COLLATE "C" NOT NULL,
  PRIMARY KEY (case_id, revision, kind, sha256)
);
CREATE FUNCTION graftnote_stays() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION 'what is signed stays'; END $$;
CREATE TRIGGER leaf_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON leaf FOR EACH STATEMENT EXECUTE FUNCTION graftnote_stays();
CREATE TRIGGER hash_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON hash FOR EACH STATEMENT EXECUTE FUNCTION graftnote_stays();
CREATE TRIGGER checkpoint_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON checkpoint FOR EACH STATEMENT EXECUTE FUNCTION graftnote_stays();
