package fhir

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"strings"
	"sync"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"
	"go.yaml.in/yaml/v3"
)

//go:embed data
var data embed.FS

// code is one published code.
type code struct{ system, code, display string }

// field says where one field of the entry goes.
type field struct {
	path, as, where string
	codes           []string // published codes for either eye
	eyes            map[string]string
}

// panel is a group of answers that travel as one Observation.
type panel struct {
	Key      string `yaml:"key"`
	Each     string `yaml:"each"`
	Section  string `yaml:"section"`
	Category string `yaml:"category"`
	During   bool   `yaml:"during"`
	Value    string `yaml:"value"`
	Focus    string `yaml:"focus"`
	Date     string `yaml:"date"`
	Day      bool   `yaml:"day"`
	Measured string `yaml:"measured"`
	Eye      string `yaml:"eye"`
}

type sectionRow struct {
	Key      string `yaml:"key"`
	Code     string `yaml:"code"`
	Title    string `yaml:"title"`
	Required bool   `yaml:"required"`
	Coded    bool   `yaml:"coded"`
}

type role struct {
	Performer   bool     `yaml:"performer"`
	Anaesthesia bool     `yaml:"anaesthesia"`
	Codes       []string `yaml:"codes"`
	Provenance  string   `yaml:"provenance"`
}

type outcome struct {
	Status  string `yaml:"status"`
	Code    string `yaml:"code"`
	Request string `yaml:"request"`
	Reason  bool   `yaml:"reason"`
}

// condition is a field of the entry and the words that must stand in it.
type condition struct {
	Field string   `yaml:"field"`
	Words []string `yaml:"words"`
}

type unit struct {
	Unit string `yaml:"unit"`
	Code string `yaml:"code"`
}

// tables is data/tables.yaml with the tab-separated files beside it.
type tables struct {
	Systems        map[string]string                       `yaml:"systems"`
	Eyes           map[string]struct{ Site, Words string } `yaml:"eyes"`
	Inactive       []string                                `yaml:"inactive"`
	IdentifierBase string                                  `yaml:"identifier-base"`
	URISystem      string                                  `yaml:"uri-system"`
	GS1Issuer      string                                  `yaml:"gs1-issuer"`
	Licensed       []struct{ System, Why string }          `yaml:"licensed"`
	EyeCodes       []*eyeCodes                             `yaml:"eye-codes"`
	Roles          map[string]role                         `yaml:"roles"`
	AnaesthesiaBy  map[string]string                       `yaml:"anaesthesia-by"`
	Sections       []sectionRow                            `yaml:"sections"`
	OtherSection   string                                  `yaml:"other-section"`
	NotStated      string                                  `yaml:"not-stated"`
	NotYetSigned   string                                  `yaml:"not-yet-signed"`
	Panels         []*panel                                `yaml:"panels"`
	Units          map[string]unit                         `yaml:"units"`
	Refraction     map[string]string                       `yaml:"refraction"`
	OffChart       string                                  `yaml:"off-chart"`
	OnlyWhen       map[string]condition                    `yaml:"only-when"`
	OfPatient      []string                                `yaml:"of-patient"`
	Absent         []struct {
		Words []string
		Code  string
	} `yaml:"absent"`
	Outcomes      map[string]outcome `yaml:"outcomes"`
	NotConditions []string           `yaml:"not-conditions"`

	SignatureTypes      map[string]string `yaml:"signature-types"`
	Attests             map[string]bool   `yaml:"attests"`
	CheckpointExtension string            `yaml:"checkpoint-extension"`
	InError             map[string]bool   `yaml:"in-error"`
	TakenBack           map[string]string `yaml:"taken-back"`
	TakenBackWords      string            `yaml:"taken-back-words"`
	RevisionsTitle      string            `yaml:"revisions-title"`

	codes       map[string]code     // "sct:65636009"
	values      map[string][]string // own concept to published codes
	fields      map[string]*field
	paths       []string
	panelFields map[string][]*field // by panel, in the order of the table
	companions  []*field            // fields that stand beside, or tell how or when, another
	panels      map[string]*panel
	own         *ownSystem
}

// terms reads the data files once. They are part of the program, so a fault in
// them is a fault of the build and panics.
var terms = sync.OnceValue(func() *tables {
	t, err := loadTables()
	if err != nil {
		panic("fhir: data: " + err.Error())
	}
	return t
})

func decode(name string, into any) error {
	b, err := data.ReadFile("data/" + name)
	if err != nil {
		return err
	}
	dec := yaml.NewDecoder(bytes.NewReader(b))
	dec.KnownFields(true)
	if err := dec.Decode(into); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// eachRow visits the rows of a tab-separated file, padded to n columns.
func eachRow(name string, n int, visit func([]string) error) error {
	b, err := data.ReadFile("data/" + name)
	if err != nil {
		return err
	}
	for i, line := range strings.Split(string(b), "\n") {
		if line == "" || line[0] == '#' {
			continue
		}
		cells := strings.Split(strings.TrimSuffix(line, "\r"), "\t")
		if len(cells) > n {
			return fmt.Errorf("%s:%d: %d columns, want %d", name, i+1, len(cells), n)
		}
		for len(cells) < n {
			cells = append(cells, "")
		}
		if err := visit(cells); err != nil {
			return fmt.Errorf("%s:%d: %w", name, i+1, err)
		}
	}
	return nil
}

func loadTables() (*tables, error) {
	t := &tables{codes: map[string]code{}, values: map[string][]string{}, fields: map[string]*field{}, panelFields: map[string][]*field{}, panels: map[string]*panel{}}
	if err := decode("tables.yaml", t); err != nil {
		return nil, err
	}
	err := eachRow("codes.tsv", 5, func(c []string) error {
		uri, ok := t.Systems[c[0]]
		if !ok || c[4] != "VERIFIED" {
			return fmt.Errorf("%s %s: unknown system or not verified", c[0], c[1])
		}
		t.codes[c[0]+":"+c[1]] = code{uri, c[1], c[2]}
		return nil
	})
	if err == nil {
		err = eachRow("values.tsv", 2, func(c []string) error {
			t.values[c[0]] = strings.Split(c[1], ",")
			return nil
		})
	}
	if err == nil {
		err = eachRow("fields.tsv", 6, func(c []string) error {
			f := &field{path: c[0], as: c[1], where: c[2]}
			if c[3] != "" {
				f.codes = strings.Split(c[3], ",")
			}
			if c[4] != "" && c[5] != "" {
				f.eyes = map[string]string{"right": c[4], "left": c[5]}
			}
			t.fields[f.path] = f
			t.paths = append(t.paths, f.path)
			switch f.as {
			case "component", "observation", "fellow":
				t.panelFields[f.where] = append(t.panelFields[f.where], f)
			case "beside", "method", "effective":
				t.companions = append(t.companions, f)
			}
			return nil
		})
	}
	for _, p := range t.Panels {
		t.panels[p.Key] = p
	}
	for _, c := range t.EyeCodes {
		err = errors.Join(err, c.load())
	}
	if err != nil {
		return nil, err
	}
	t.own, err = loadOwn()
	if err != nil {
		return nil, err
	}
	return t, t.checkKeys()
}

// checkKeys refuses a data file that names a code, panel or concept that is
// nowhere: a missing code would otherwise show only in the entry that needs it.
func (t *tables) checkKeys() error {
	known := func(keys ...string) error {
		for _, k := range keys {
			if _, ok := t.codes[k]; !ok && !t.own.has(k) {
				return fmt.Errorf("no code or concept %q", k)
			}
		}
		return nil
	}
	for _, f := range t.fields {
		keys := append([]string{f.path}, f.codes...)
		for _, k := range f.eyes {
			keys = append(keys, k)
		}
		if err := known(keys...); err != nil {
			return fmt.Errorf("fields.tsv: %s: %w", f.path, err)
		}
		if _, ok := t.panels[f.where]; !ok && (f.as == "component" || f.as == "observation" || f.as == "fellow" || f.as == "value") {
			return fmt.Errorf("fields.tsv: %s: no panel %q", f.path, f.where)
		}
	}
	for own, keys := range t.values {
		if err := known(append([]string{own}, keys...)...); err != nil {
			return fmt.Errorf("values.tsv: %s: %w", own, err)
		}
	}
	for _, r := range t.Roles {
		if err := known(r.Codes...); err != nil {
			return fmt.Errorf("roles: %w", err)
		}
	}
	for _, s := range t.Sections {
		if err := known(s.Code); err != nil {
			return fmt.Errorf("sections: %w", err)
		}
	}
	for _, a := range t.Absent {
		if err := known(a.Code); err != nil {
			return fmt.Errorf("absent: %w", err)
		}
	}
	for kind, code := range t.SignatureTypes {
		if _, ok := t.codes[code]; !ok {
			return fmt.Errorf("signature-types: %s: no code %q", kind, code)
		}
	}
	for _, p := range t.Panels {
		if err := known(p.Category); err != nil {
			return fmt.Errorf("panels: %w", err)
		}
	}
	return nil
}

// other is the eye that is not this one.
func (t *tables) other(eye string) string {
	for e := range t.Eyes {
		if e != eye {
			return e
		}
	}
	return ""
}

// published is the Coding of a key of codes.tsv.
func (t *tables) published(key string) fhir.Coding {
	c, ok := t.codes[key]
	if !ok {
		panic("fhir: no published code " + key)
	}
	return fhir.Coding{System: &c.system, Code: &c.code, Display: &c.display}
}

// coding is the Coding of a published key or of a concept of our own.
func (t *tables) coding(key string) fhir.Coding {
	if _, ok := t.codes[key]; ok {
		return t.published(key)
	}
	return t.own.coding(key)
}

// concept is a CodeableConcept of published keys and own concepts, in order.
func (t *tables) concept(keys ...string) *fhir.CodeableConcept {
	c := &fhir.CodeableConcept{}
	for _, k := range keys {
		c.Coding = append(c.Coding, t.coding(k))
	}
	return c
}
