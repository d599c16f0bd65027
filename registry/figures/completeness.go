package figures

// State is what an entry says about a field that applies to it.
type State int

const (
	// Silent: nothing was said.
	Silent State = iota
	// Reasoned: not recorded, and a reason was given.
	Reasoned
	// Recorded: there is a value.
	Recorded
	// NotAsked: the question does not arise; it is not in the denominator.
	NotAsked
)

// FieldCompleteness counts the answers to one field.
type FieldCompleteness struct {
	Field                                string
	Recorded, Reasoned, Silent, NotAsked int
}

// Of is the denominator: the cases in which the question arises.
func (f FieldCompleteness) Of() int { return f.Recorded + f.Reasoned + f.Silent }

// Shares are the parts of Of that are recorded, left out with a reason and left
// silent; they add up to 1. false when the question never arose.
func (f FieldCompleteness) Shares() (recorded, reasoned, silent float64, ok bool) {
	n := float64(f.Of())
	if n == 0 {
		return 0, 0, 0, false
	}
	return float64(f.Recorded) / n, float64(f.Reasoned) / n, float64(f.Silent) / n, true
}

// Completeness counts answers by field. The zero value is ready for use.
type Completeness struct {
	at     map[string]int
	fields []FieldCompleteness
}

// Add counts one answer. Fields keep the order in which they first came.
func (c *Completeness) Add(field string, s State) {
	if c.at == nil {
		c.at = map[string]int{}
	}
	i, known := c.at[field]
	if !known {
		i = len(c.fields)
		c.at[field] = i
		c.fields = append(c.fields, FieldCompleteness{Field: field})
	}
	switch f := &c.fields[i]; s {
	case Recorded:
		f.Recorded++
	case Reasoned:
		f.Reasoned++
	case NotAsked:
		f.NotAsked++
	default:
		f.Silent++
	}
}

// Fields returns a copy of the counts.
func (c *Completeness) Fields() []FieldCompleteness {
	return append([]FieldCompleteness(nil), c.fields...)
}
