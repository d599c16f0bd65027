CREATE INDEX leaf_followup ON leaf (idx) WHERE kind IN ('follow-up', 'follow-up-withdrawn');
CREATE TABLE dispatch (
  seq INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  body BLOB NOT NULL,
  link TEXT NOT NULL
);
CREATE TRIGGER dispatch_stays BEFORE UPDATE ON dispatch BEGIN SELECT RAISE(ABORT, 'what was sent stays'); END;
CREATE TRIGGER dispatch_kept BEFORE DELETE ON dispatch BEGIN SELECT RAISE(ABORT, 'what was sent is kept'); END;
