package main

import (
	"bytes"
	"encoding/json"

	"graftnote/fhir"
)

// unsigned says whether data is a file that 'write' puts beside the products and
// that nobody signs: it is about no single case. It is compared with the one that
// this version makes; another version's or site's is no fault.
func (v *verifier) unsigned(out *verified, data []byte) bool {
	var seen struct {
		ResourceType string          `json:"resourceType"`
		URL          string          `json:"url"`
		Dictionary   json.RawMessage `json:"dictionaryVersion"`
		KeyEpoch     json.RawMessage `json:"keyEpoch"`
	}
	if json.Unmarshal(data, &seen) != nil {
		return false
	}
	var again []byte
	var err error
	switch {
	case seen.ResourceType == "CodeSystem":
		var own struct {
			URL string `json:"url"`
		}
		if again, err = fhir.CodeSystem(); err != nil || json.Unmarshal(again, &own) != nil || own.URL != seen.URL {
			return false
		}
		out.Kind = "code system of the bundles"
	case seen.Dictionary != nil && seen.KeyEpoch != nil:
		if again, err = v.maker.export.rowSchema(); err != nil {
			return false
		}
		out.Kind = "description of the rows"
	default:
		return false
	}
	if bytes.Equal(again, data) {
		out.say("file", holds, "it carries no signature; made again it is the same, byte for byte")
		return true
	}
	out.say("signature", unsigned, "it carries none, and is not the one that this version makes with these settings: 'write' makes it again")
	return true
}
