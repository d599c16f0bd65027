package schema

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strconv"

	"github.com/gowebpki/jcs"
)

// Checked is an entry with everything that was found about it. Only this
// package makes one, and the exporters accept nothing else: a note for an
// unchecked entry can't be written by mistake.
type Checked struct {
	entry     *Entry
	findings  []Finding
	file      string
	canonical []byte
	made      bool
}

// Entry is the entry; it must not be changed.
func (c Checked) Entry() *Entry { return c.entry }

// Findings are all findings of the case, in reading order.
func (c Checked) Findings() []Finding { return c.findings }

// File is the file that the entry came from, as the user named it.
func (c Checked) File() string { return c.file }

// Valid reports that the value came from Check; the zero Checked is not valid.
func (c Checked) Valid() bool { return c.made }

// Complete reports that nothing blocks sign-off.
func (c Checked) Complete() bool { return c.made && len(c.Gaps()) == 0 }

// Gaps are the findings that block sign-off.
func (c Checked) Gaps() []Finding {
	var out []Finding
	for _, f := range c.findings {
		if f.Severity == Blocks {
			out = append(out, f)
		}
	}
	return out
}

// ID is the case identifier. A draft without one gets a name from the digest of
// its canonical form, so that its files can be told apart.
func (c Checked) ID() string {
	if c.entry.Case.Recorded() {
		return c.entry.Case.Value()
	}
	return "draft-" + c.Digest()[:12]
}

// DraftID is what may name the files and the page of an unsigned entry: the case
// identifier, unless it is missing or names the patient.
func (c Checked) DraftID() string {
	if c.entry.CaseNamesPatient() {
		return "draft-" + c.Digest()[:12]
	}
	return c.ID()
}

// Canonical is the entry as RFC 8785 canonical JSON. Every value is its text, so
// the typed precision survives, and reading it gives the same entry again.
func (c Checked) Canonical() []byte { return c.canonical }

// Digest is the SHA-256 of the canonical entry, in hex.
func (c Checked) Digest() string {
	h := sha256.Sum256(c.canonical)
	return hex.EncodeToString(h[:])
}

// Check runs every check over a case and seals it. The batch may be nil when the
// case stands alone.
func Check(cs *Case, o Options, b *Batch) (Checked, error) {
	o.Site.fill(cs.Entry)
	cs.Entry.nameRest()
	findings := checkCase(cs, o)
	findings = append(findings, b.findings(cs)...)
	findings = cs.confirmed(findings, o)
	Sort(findings)
	canonical, err := canonicalise(cs.Entry)
	if err != nil {
		return Checked{}, err
	}
	return Checked{entry: cs.Entry, findings: findings, file: cs.At.File, canonical: canonical, made: true}, nil
}

// canonicalise writes the entry as JSON whose values are texts.
func canonicalise(e *Entry) ([]byte, error) {
	top := map[string]any{"graftnote": formatVersion}
	var fromTechnique []string
	for _, g := range Content().Groups {
		if g.Many != "" {
			canonicalList(e, g, top)
		}
	}
	e.walk(func(r *Row, item int, s slot) {
		v := canonicalValue(s)
		if v == nil || r.Path() == "from-technique" || r.Path() == "graftnote" {
			return
		}
		if s.Origin() == Technique {
			fromTechnique = append(fromTechnique, itemPath(r, item))
		}
		canonicalInto(top, r.Group, item)[r.Key] = v
	})
	if len(fromTechnique) > 0 {
		top["from-technique"] = fromTechnique
	}
	return canonicalJSON(top)
}

func canonicalJSON(top map[string]any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(top); err != nil {
		return nil, err
	}
	out := bytes.TrimSuffix(b.Bytes(), []byte("\n"))
	// With texts and plain keys alone this is the canonical form already, but for two
	// characters that the encoder always escapes.
	if !bytes.Contains(out, []byte(`\u202`)) {
		return out, nil
	}
	return jcs.Transform(out)
}

// canonicalInto is the object that a field of the group stands in.
func canonicalInto(top map[string]any, g *Group, item int) map[string]any {
	switch {
	case g.Many != "":
		return top[g.Key].([]any)[item].(map[string]any)
	case g.Key == "":
		return top
	}
	m, ok := top[g.Key].(map[string]any)
	if !ok {
		m = map[string]any{}
		top[g.Key] = m
	}
	return m
}

func canonicalList(e *Entry, g *Group, top map[string]any) {
	state := e.lists[g.Key]
	n := e.Count(g.Key)
	switch {
	case n > 0:
		items := make([]any, n)
		for i := range items {
			items[i] = map[string]any{}
			if name := e.itemName(g.Key, i); name > 0 {
				items[i].(map[string]any)[itemKey] = strconv.Itoa(name)
			}
		}
		top[g.Key] = items
	case state.None:
		top[g.Key] = "none"
	case state.Reason != "":
		top[g.Key] = "not recorded: " + state.Reason
	}
}

func canonicalValue(s slot) any {
	if reason, ok := s.NotRecorded(); ok {
		return "not recorded: " + reason
	}
	if !s.Recorded() {
		return nil
	}
	if manyItems[s.Row().Type] {
		return texts(s.Any())
	}
	return s.Text()
}

// ErrNotCanonical says that bytes are not the canonical form of an entry.
var ErrNotCanonical = errors.New("schema: not the canonical form of an entry")

// Sealed opens the canonical bytes of an entry that was checked and signed
// before. It is not judged again: rules that came later can't unmake a
// signature. Bytes that are not exactly what Canonical gives are refused.
func Sealed(canonical []byte, o Options) (Checked, error) {
	c, err := Stored(canonical, o)
	if err != nil {
		return Checked{}, err
	}
	again, err := canonicalise(c.entry)
	if err != nil {
		return Checked{}, err
	}
	if !bytes.Equal(again, canonical) {
		return Checked{}, ErrNotCanonical
	}
	return c, nil
}

// Stored opens the canonical bytes of a signed entry that come from a store which
// held them against the canonical form when it took them in: that is not done
// again. What this version does not understand in full is refused all the same.
func Stored(canonical []byte, o Options) (Checked, error) {
	o.Technique, o.Site = nil, nil
	d, err := sealedDocument("entry.json", canonical)
	if err != nil {
		return Checked{}, err
	}
	r := reader{collector: newCollector(), doc: d, o: o}
	list := r.document()
	if len(list) != 1 || len(r.findings) > 0 || len(list[0].findings) > 0 {
		return Checked{}, ErrNotCanonical
	}
	return Checked{entry: list[0].Entry, file: list[0].At.File, canonical: canonical, made: true}, nil
}
