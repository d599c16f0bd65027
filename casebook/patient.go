package casebook

import (
	"encoding/json"
	"slices"
)

// PatientChange is what a correction does to the patient of a note.
type PatientChange int

// The kinds of change.
const (
	// PatientKept: the patient is who it was; a respelling alone changes nobody.
	PatientKept PatientChange = iota
	// PatientSlip: one of name, date of birth, national number and sex differs. The
	// signer says that it is the same person.
	PatientSlip
	// PatientOther: the hospital number differs, or two of the others that name a
	// person. The note is another patient's: it is withdrawn, and the right patient
	// gets a new one. A correction would carry the first one's page into the
	// second one's record.
	PatientOther
)

// ChangeOfPatient compares the patients of two canonical entries. What was silent
// before or is silent now is no other person's.
func ChangeOfPatient(old, new []byte) (PatientChange, error) {
	a, err := patientOf(old)
	if err != nil {
		return PatientKept, err
	}
	b, err := patientOf(new)
	if err != nil {
		return PatientKept, err
	}
	differs := func(key string) bool {
		return a[key] != "" && b[key] != "" && !sameName(a[key], b[key])
	}
	if a["id"] != b["id"] {
		return PatientOther, nil
	}
	n := 0
	for _, key := range []string{"name", "born", "national-number"} {
		if differs(key) {
			n++
		}
	}
	switch {
	case n > 1:
		return PatientOther, nil
	case n == 1 || differs("sex"):
		return PatientSlip, nil
	}
	return PatientKept, nil
}

func patientOf(entry []byte) (map[string]string, error) {
	var e struct {
		Patient map[string]any `json:"patient"`
	}
	if err := json.Unmarshal(entry, &e); err != nil {
		return nil, errStatement
	}
	out := map[string]string{}
	for k, v := range e.Patient {
		out[k] = textOf(v)
	}
	return out, nil
}

// samePatient holds a correction to the patient of the note.
func samePatient(old, new []byte, said bool) error {
	change, err := ChangeOfPatient(old, new)
	switch {
	case err != nil:
		return err
	case change == PatientOther:
		return ErrOtherPatient
	case change == PatientSlip && !said:
		return ErrSamePerson
	case change != PatientSlip && said:
		return ErrSamePerson
	}
	return nil
}

// newItems refuses a corrected entry in which a new item bears a name that an item
// of an earlier revision had: whoever received that one would take it for this.
func newItems(h History, entry []byte) error {
	now, err := itemNames(entry)
	if err != nil {
		return err
	}
	inForce, err := itemNames(h.Entry(len(h.Revisions)))
	if err != nil {
		return err
	}
	for i := range h.Revisions {
		before, err := itemNames(h.Entry(i + 1))
		if err != nil {
			return err
		}
		for group, names := range now {
			for _, name := range names {
				if slices.Contains(before[group], name) && !slices.Contains(inForce[group], name) {
					return ErrItem
				}
			}
		}
	}
	return nil
}

// itemNames are the names of the items of each list in a canonical entry.
func itemNames(entry []byte) (map[string][]int, error) {
	var top map[string]any
	if err := json.Unmarshal(entry, &top); err != nil {
		return nil, errStatement
	}
	out := map[string][]int{}
	for key, v := range top {
		list, ok := v.([]any)
		if !ok || !ofObjects(list) {
			continue
		}
		for i, item := range list {
			m, _ := item.(map[string]any)
			name := itemName(m, i+1)
			if slices.Contains(out[key], name) {
				return nil, ErrItem
			}
			out[key] = append(out[key], name)
		}
	}
	return out, nil
}

// yesWord is what a statement says for a thing that the signer affirmed.
func yesWord(yes bool) string {
	if yes {
		return "yes"
	}
	return ""
}
