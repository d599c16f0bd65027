CREATE INDEX leaf_followup ON leaf (idx) WHERE kind IN ('follow-up', 'follow-up-withdrawn');
CREATE TABLE dispatch (
  seq BIGINT PRIMARY KEY,
  kind TEXT COLLATE "C" NOT NULL,
  body BYTEA NOT NULL,
  link TEXT COLLATE "C" NOT NULL
);
CREATE TRIGGER dispatch_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON dispatch FOR EACH STATEMENT EXECUTE FUNCTION graftnote_stays();
