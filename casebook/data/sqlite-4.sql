CREATE TABLE document (
  sha256 TEXT PRIMARY KEY,
  body BLOB NOT NULL
);
CREATE TRIGGER document_stays BEFORE UPDATE ON document BEGIN SELECT RAISE(ABORT, 'a signed document stays'); END;
CREATE TRIGGER document_kept BEFORE DELETE ON document BEGIN SELECT RAISE(ABORT, 'a signed document is kept'); END;
