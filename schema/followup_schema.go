package schema

import (
	"encoding/json"

	"github.com/invopop/jsonschema"

	"graftnote/schema/quantity"
)

// The shape of a follow-up document, for the JSON Schema. Rows that are typed
// again and the visits are those of an entry.
type followupFile struct {
	Graftnote Answer[string]   `json:"graftnote,omitempty"`
	Followup  Answer[string]   `json:"followup"`
	EnteredBy followupWriter   `json:"entered-by"`
	Consent   *followupConsent `json:"consent,omitempty"`
	Patient   followupPatient  `json:"patient"`
	Eye       followupEye      `json:"eye"`
	Visits    []Visit          `json:"visits"`
}

type (
	followupWriter struct {
		Name Answer[string] `json:"name"`
		Role Answer[Code]   `json:"role"`
	}
	followupConsent struct {
		Registry Answer[Code] `json:"registry,omitempty"`
	}
	followupPatient struct {
		ID   Answer[string]        `json:"id"`
		Born Answer[quantity.Date] `json:"born"`
	}
	followupEye struct {
		Operated Answer[Code] `json:"operated"`
	}
)

// describeFollowup fills in a group's properties from the rows of the form.
func describeFollowup(key string, s *jsonschema.Schema) {
	for _, g := range Content().FollowupForm() {
		if g.Key == key {
			s.Title = g.Title
			describeRows(g, s)
		}
	}
}

func (followupWriter) JSONSchemaExtend(s *jsonschema.Schema)  { describeFollowup("entered-by", s) }
func (followupConsent) JSONSchemaExtend(s *jsonschema.Schema) { describeFollowup("consent", s) }
func (followupPatient) JSONSchemaExtend(s *jsonschema.Schema) { describeFollowup("patient", s) }
func (followupEye) JSONSchemaExtend(s *jsonschema.Schema)     { describeFollowup("eye", s) }

// JSONSchemaExtend describes the top of the document and lets one visit stand
// without its dash.
func (followupFile) JSONSchemaExtend(s *jsonschema.Schema) {
	describeFollowup("", s)
	if p, ok := s.Properties.Get("visits"); ok {
		s.Properties.Set("visits", &jsonschema.Schema{Title: Content().groups["visits"].Title, OneOf: []*jsonschema.Schema{p, p.Items}})
	}
}

// FollowupJSONSchema is the JSON Schema (2020-12) of a follow-up document as
// indented JSON.
func FollowupJSONSchema() ([]byte, error) {
	r := &jsonschema.Reflector{ExpandedStruct: true, AllowAdditionalProperties: false, Namer: plainName}
	s := r.Reflect(&followupFile{})
	s.ID = "https://graftnote.example/schema/followup.json"
	s.Title = "graftnote follow-up"
	b, err := json.MarshalIndent(s, "", "  ")
	return append(b, '\n'), err
}
