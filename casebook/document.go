package casebook

import (
	"bytes"
	"compress/flate"
	"io"
	"unicode/utf8"

	"github.com/gowebpki/jcs"

	"graftnote/schema"
)

// maxDocument is the largest document stored and read, in bytes. It holds the
// words of an entry, a few times over.
const maxDocument = 8 * schema.MaxFile

const (
	queryDocument  = "SELECT body FROM document WHERE sha256 = ?"
	insertDocument = "INSERT INTO document (sha256, body) VALUES (?, ?) ON CONFLICT DO NOTHING"
)

// soundDocument refuses what is not a canonical JSON object. What it says is not this
// package's to know: it keeps and binds the bytes.
func soundDocument(b []byte) bool {
	if len(b) < 2 || len(b) > maxDocument || b[0] != '{' || !utf8.Valid(b) {
		return false
	}
	again, err := jcs.Transform(b)
	return err == nil && bytes.Equal(again, b)
}

// storeDocument keeps a document under its digest, once. It is packed: the words
// of a note are a few times its entry.
func storeDocument(x tx, document []byte) error {
	var b bytes.Buffer
	w, err := flate.NewWriter(&b, flate.DefaultCompression)
	if err != nil {
		return err
	}
	if _, err := w.Write(document); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	return x.exec(insertDocument, digest(document), b.Bytes())
}

// loadPacked reads a document as it is stored; nil when it is not there.
func loadPacked(x tx, sum string) (packed []byte, err error) {
	_, err = x.one(queryDocument, []any{sum}, &packed)
	return packed, err
}

// unpack gives the document of a digest; false when these are not its bytes.
func unpack(packed []byte, sum string) ([]byte, bool) {
	b, err := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(packed)), maxDocument+1))
	if err != nil || len(b) > maxDocument || digest(b) != sum {
		return nil, false
	}
	return b, true
}

// loadDocument gives the document that a statement binds; nil for one that binds
// none, and when it is missing or was edited.
func loadDocument(x tx, s *Statement) ([]byte, error) {
	if s.DocumentSHA256 == "" {
		return nil, nil
	}
	packed, err := loadPacked(x, s.DocumentSHA256)
	if err != nil || packed == nil {
		return nil, err
	}
	b, _ := unpack(packed, s.DocumentSHA256)
	return b, nil
}

// documentOf is the digest of the document that an unread statement names.
func documentOf(statement []byte) string {
	if v := member(statement, "document-sha256"); len(v) > 2 {
		return string(v[1 : len(v)-1])
	}
	return ""
}
