package note

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"

	"github.com/gowebpki/jcs"
)

// documentFormat is the version of the written form. Members may be added under
// it; a change of meaning gives a new one.
const documentFormat = "graftnote document 1"

// ErrDocument is returned for bytes that are no document, or one of a later
// version.
var ErrDocument = errors.New("note: no document of this version")

// written is a document with its format.
type written struct {
	Format string `json:"format"`
	Document
}

// Canonical is the signed part of the document as canonical JSON (RFC 8785): what
// the signer was shown, the bytes that the signature binds. ParseDocument makes
// the same document of them.
func (d Document) Canonical() ([]byte, error) {
	b, err := json.Marshal(written{documentFormat, d})
	if err != nil {
		return nil, ErrDocument
	}
	return jcs.Transform(b)
}

// ParseDocument reads what Canonical wrote. It is strict: what it can't place
// would be missing on the page.
func ParseDocument(b []byte) (Document, error) {
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	var w written
	if err := dec.Decode(&w); err != nil || w.Format != documentFormat {
		return Document{}, ErrDocument
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return Document{}, ErrDocument
	}
	return w.Document, nil
}
