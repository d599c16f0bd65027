package fhir

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"testing"
)

// Our own codes with a changed list have a new version: receivers keep a code system
// by its version (R4, CodeSystem.version). Words may be put better without one.
func TestChangedCodesAreANewVersion(t *testing.T) {
	s := terms().own
	h := sha256.New()
	for _, key := range s.order {
		c := s.byCode[key]
		io.WriteString(h, c.Code+"\t"+c.broader+"\n")
	}
	if got := hex.EncodeToString(h.Sum(nil)); got != s.Digest {
		t.Errorf("the codes of version %s were changed: raise the version in data/own.yaml and write its digest %s", s.Version, got)
	}
}
