package month

import (
	"fmt"
	"strings"

	"graftnote/registry"
)

// block is how many codes stand together: a column grows without being copied.
const block = 1 << 13

// coded is a column of cells, each different text kept once and each cell two
// bytes, four where a column has more than 65,536 texts. 100,000 rows of 140
// columns fit so into some tens of megabytes.
type coded struct {
	words []string
	at    map[string]uint32
	small [][]uint16
	large [][]uint32
	n     int
	// accepts says why a text cannot stand in the column; nil accepts all.
	accepts func(text string) string
}

func newCoded() *coded { return &coded{at: map[string]uint32{}} }

func (c *coded) add(text string) {
	code, known := c.at[text]
	if !known {
		code = uint32(len(c.words))
		c.words = append(c.words, strings.Clone(text))
		c.at[c.words[code]] = code
		if code == 1<<16 {
			c.grow()
		}
	}
	if c.large != nil {
		if c.n%block == 0 {
			c.large = append(c.large, make([]uint32, 0, block))
		}
		last := &c.large[len(c.large)-1]
		*last = append(*last, code)
	} else {
		if c.n%block == 0 {
			c.small = append(c.small, make([]uint16, 0, block))
		}
		last := &c.small[len(c.small)-1]
		*last = append(*last, uint16(code))
	}
	c.n++
}

// grow turns the codes into those of four bytes.
func (c *coded) grow() {
	c.large = make([][]uint32, 0, len(c.small)+1)
	for _, b := range c.small {
		wide := make([]uint32, len(b), block)
		for i, code := range b {
			wide[i] = uint32(code)
		}
		c.large = append(c.large, wide)
	}
	c.small = nil
}

func (c *coded) text(row int) string {
	if c.large != nil {
		return c.words[c.large[row/block][row%block]]
	}
	return c.words[c.small[row/block][row%block]]
}

// pick is the column in the order of the lines, one cell a line, so that writing
// a table goes through memory in one direction. A line without a source gets any
// cell: nobody reads it.
func (c *coded) pick(lines []line) *coded {
	out := &coded{words: c.words}
	if c.large != nil {
		out.large = [][]uint32{}
	}
	for i := range lines {
		row := max(int(lines[i].source), 0)
		switch {
		case c.n == 0:
			continue
		case i%block > 0:
		case c.large != nil:
			out.large = append(out.large, make([]uint32, 0, block))
		default:
			out.small = append(out.small, make([]uint16, 0, block))
		}
		if c.large != nil {
			last := &out.large[len(out.large)-1]
			*last = append(*last, c.large[row/block][row%block])
		} else {
			last := &out.small[len(out.small)-1]
			*last = append(*last, c.small[row/block][row%block])
		}
	}
	out.n = len(lines)
	return out
}

// rawVisit ties a visit to its operation.
type rawVisit struct {
	key       string
	operation int32
	raw       Digest
}

// rawOperation is an operation that could be sent.
type rawOperation struct {
	key, person string
	caseID      string
	revision    int
	month       Period
	reason      string
	raw         Digest
	thisPeriod  bool
}

// store holds all rows that could stand at the registry, before protection.
type store struct {
	operations []rawOperation
	visits     []rawVisit
	cells      []*coded // by column of the operation's row
	visitCells []*coded
	status     *coded // last status of the graft, by operation
	statusAt   int    // column of the visit's status
	monthsAt   int    // column of the visit's months
	seen       map[string]bool
	personOf   map[string]string // person of a case that gives no row, where it is known
	out        map[string]string // key of an operation left out to its reason
	outReason  map[string]string // key to the reason given for a withdrawal
	exceptions []Exception
	counts     Counts
	digest     digester
}

func newStore() *store {
	s := &store{seen: map[string]bool{}, out: map[string]string{}, outReason: map[string]string{}, personOf: map[string]string{}, status: newCoded()}
	for _, c := range registry.Columns() {
		cells := newCoded()
		if cells.accepts = c.Accepts; c.Name == "row_key" || c.Name == "person_key" {
			cells.accepts = acceptNothing
		}
		s.cells = append(s.cells, cells)
	}
	for i, c := range registry.VisitColumns() {
		cells := newCoded()
		cells.accepts = c.Accepts
		s.visitCells = append(s.visitCells, cells)
		switch c.Name {
		case "graft_status":
			s.statusAt = i
		case "months":
			s.monthsAt = i
		}
	}
	return s
}

// acceptNothing: the keys are made here.
func acceptNothing(text string) string {
	if text != "" {
		return "a key stands in a row that was kept at home"
	}
	return ""
}

// fill reads all operations up to the period.
func (s *store) fill(in Input, keys keyring) error {
	s.counts.HeldBack = map[string]int{}
	for o, err := range in.Operations {
		if err != nil {
			return err
		}
		if err := o.sound(len(s.cells), len(s.visitCells)); err != nil {
			return err
		}
		if s.seen[o.Case] {
			return fmt.Errorf("%w: a case stands twice", ErrInput)
		}
		s.seen[o.Case] = true
		if in.Period.after(o.Month) {
			continue
		}
		key, err := keys.operation(o.Case)
		if err != nil {
			return err
		}
		if err := s.take(in, o, key, keys); err != nil {
			return err
		}
	}
	s.seen = nil
	return nil
}

func (s *store) take(in Input, o Operation, key string, keys keyring) error {
	// What waits in a file without a readable day may be of the period, so it counts.
	undated := o.Month == (Period{}) && (o.State == Unsigned || o.State == Blocked)
	this := in.Period.holds(o.Month) || undated
	if this {
		s.counts.Entered++
	}
	reason := ""
	switch {
	case o.State != Signed:
		reason = string(o.State)
	case !o.Consent:
		reason = consentRefused
	}
	if this && o.State == Signed {
		s.counts.Signed++
	}
	if reason != "" {
		s.leaveOut(key, o.Case, reason, which(this, undated), o.Reason)
		s.personOf[o.Case] = o.Person
		return nil
	}
	r := rawOperation{key: key, person: o.Person, caseID: o.Case, revision: o.Revision, month: o.Month, reason: o.Reason, thisPeriod: this}
	if err := s.addCells(s.cells, o.Cells); err != nil {
		return err
	}
	s.digest.cell(o.Person)
	r.raw = s.digest.sum()
	status, latest := "none", -1
	at := len(s.operations)
	for _, v := range o.Visits {
		if in.Period.after(v.Month) {
			continue
		}
		visitKey, err := keys.visit(o.Case, v.ID)
		if err != nil {
			return err
		}
		if err := s.addCells(s.visitCells, v.Cells); err != nil {
			return err
		}
		s.visits = append(s.visits, rawVisit{key: visitKey, operation: int32(at), raw: s.digest.sum()})
		if m := wholeNumber(v.Cells[s.monthsAt]); m >= latest {
			latest, status = m, v.Cells[s.statusAt]
		}
	}
	s.status.add(status)
	s.operations = append(s.operations, r)
	return nil
}

// addCells takes the cells of a row in. A cell may come from a file kept at home,
// so each different one is held against its column: nothing else can leave.
func (s *store) addCells(columns []*coded, cells []string) error {
	for i, cell := range cells {
		c := columns[i]
		if _, known := c.at[cell]; !known && c.accepts != nil {
			if fault := c.accepts(cell); fault != "" {
				return fmt.Errorf("%w: a cell does not fit its column: %s", ErrInput, fault)
			}
		}
		c.add(cell)
		s.digest.cell(cell)
	}
	return nil
}

// leaveOut notes an operation that gives no row.
func (s *store) leaveOut(key, caseID, reason, which, why string) {
	s.out[key] = reason
	if why != "" {
		s.outReason[key] = why
	}
	if which != "earlier" {
		s.counts.HeldBack[reason]++
	}
	s.exceptions = append(s.exceptions, Exception{Key: key, Which: which, Reason: reason, Case: caseID})
}

// which is the code of month.yaml for an operation left out.
func which(this, undated bool) string {
	switch {
	case undated:
		return "unknown"
	case this:
		return "this"
	}
	return "earlier"
}

// wholeNumber is -1 for a cell that is no figure.
func wholeNumber(cell string) int {
	n := 0
	if cell == "" {
		return -1
	}
	for _, r := range cell {
		if r < '0' || r > '9' || n > 1_000_000 {
			return -1
		}
		n = 10*n + int(r-'0')
	}
	return n
}
