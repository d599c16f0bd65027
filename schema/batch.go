package schema

import "slices"

// Batch knows what the other entries of one run hold, so that the same tissue
// or the same operation in two of them is seen. It keeps keys, not entries.
type Batch struct {
	tissues    map[string][]use
	operations map[string][]use
	days       map[string][]use
	cases      map[string][]use
	numbers    map[string][]use // by hospital number
}

// use is one entry that holds a key.
type use struct {
	who   string // patient and eye
	in    Pos    // of the case, which tells one entry from another
	at    Pos    // of the answer that is the key
	path  string // of the answer
	split string // of a tissue
	name  string // of the patient, and the date of birth: of a hospital number
	born  string
}

// NewBatch makes an empty batch.
func NewBatch() *Batch {
	return &Batch{map[string][]use{}, map[string][]use{}, map[string][]use{}, map[string][]use{}, map[string][]use{}}
}

// Add notes the keys of a case before any case is checked.
func (b *Batch) Add(cs *Case) {
	e := cs.Entry
	who := caseOf(e)
	eye := use{who: who, in: cs.At, at: e.Eye.Operated.Pos(), path: "eye.operated"}
	if e.Case.Recorded() {
		b.cases[e.Case.Value()] = append(b.cases[e.Case.Value()], use{who: who, in: cs.At, at: e.Case.Pos(), path: "case"})
	}
	if key := patientKey(e); key != "" {
		name, born := personOf(e)
		b.numbers[key] = append(b.numbers[key], use{who: who, in: cs.At, at: e.Patient.ID.Pos(), path: "patient.id", name: name, born: born})
	}
	if key := operationKey(e); key != "" {
		b.operations[key] = append(b.operations[key], eye)
	}
	if key := dayKey(e); key != "" {
		b.days[key] = append(b.days[key], eye)
	}
	for i, t := range e.Tissues {
		if key := tissueKey(t); key != "" {
			b.tissues[key] = append(b.tissues[key], use{who: who, in: cs.At, at: t.ID.Pos(), path: itemPath(t.ID.Row(), i), split: t.Split.Text()})
		}
	}
}

// caseOf is whose tissue it is: the patient and the eye.
func caseOf(e *Entry) string { return patientKey(e) + "\x00" + e.Eye.Operated.Text() }

// dayKey joins the operations of one patient on one day.
func dayKey(e *Entry) string {
	if operationKey(e) == "" {
		return ""
	}
	return patientKey(e) + "\x00" + e.Episode.Date.Text()
}

func operationKey(e *Entry) string {
	if !e.Patient.ID.Recorded() || !e.Eye.Operated.Recorded() || !e.Episode.Date.Recorded() {
		return ""
	}
	return patientKey(e) + "\x00" + e.Eye.Operated.Text() + "\x00" + e.Episode.Date.Text()
}

// tissueKey is the identifier of a tissue that stayed here: one that went back
// to the bank unopened may come again for another patient.
func tissueKey(t Tissue) string {
	if !t.ID.Recorded() || t.Outcome.Is("returned") && !opened(t) {
		return ""
	}
	return t.ID.Text()
}

// clashes reports whether two uses can't both be of one cornea: another eye, and
// not two named parts of a split one.
func (u use) clashes(other use) bool {
	return u.who != other.who && (u.split == other.split || u.split == "" || other.split == "")
}

// findings about this case that come from the other entries of the run.
func (b *Batch) findings(cs *Case) []Finding {
	if b == nil {
		return nil
	}
	c := newCollector()
	e := cs.Entry
	if e.Case.Recorded() && !e.CaseNamesPatient() {
		c.caseID = e.Case.Value()
	}
	raise := func(rule string, path string, at Pos, uses []use) {
		if len(uses) < 2 {
			return
		}
		f := c.finding(rule, at, path)
		if cs.doc != nil && at.File == cs.doc.file {
			f.Excerpt = cs.doc.line(at.Line)
		}
		for _, u := range uses {
			if u.in != cs.At {
				f.Related = append(f.Related, Related{u.path, u.at})
			}
		}
		c.push(f)
	}
	if e.Case.Recorded() {
		raise("case-twice", "case", e.Case.Pos(), b.cases[e.Case.Value()])
	}
	if uses, key := b.numbers[patientKey(e)], patientKey(e); key != "" {
		name, born := personOf(e)
		own := use{name: name, born: born}
		others := slices.DeleteFunc(slices.Clone(uses), func(u use) bool { return u.in != cs.At && !u.otherPerson(own) })
		raise("number-of-two-persons", "patient.id", e.Patient.ID.Pos(), others)
	}
	raise("eye-grafted-twice-on-day", "eye.operated", e.Eye.Operated.Pos(), b.operations[operationKey(e)])
	if uses := b.days[dayKey(e)]; dayKey(e) != "" && slices.ContainsFunc(uses, func(u use) bool { return u.who != uses[0].who }) {
		raise("both-eyes-on-day", "eye.operated", e.Eye.Operated.Pos(), uses)
	}
	for i, t := range e.Tissues {
		if tissueKey(t) == "" {
			continue
		}
		own := use{who: caseOf(e), split: t.Split.Text()}
		if uses := b.tissues[tissueKey(t)]; slices.ContainsFunc(uses, own.clashes) {
			raise("tissue-on-another-patient", itemPath(t.ID.Row(), i), t.ID.Pos(), uses)
		}
	}
	return c.findings
}
