package month

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strconv"
	"strings"
)

// Standing is what a registry holds of one row.
type Standing struct {
	Revision int
	// Operation is the key of the operation, for a visit.
	Operation string
	// Withdrawn: the row was taken back; Cells is nil.
	Withdrawn bool
	// Cells are the cells that say something about the operation or the visit, the
	// key of the person among them, in the order of the file.
	Cells []string
}

// Holdings is what a registry holds after it has loaded packages: by kind of row and
// key.
type Holdings map[string]map[string]Standing

// Replay is the other side of the month, a registry that is written apart from the
// code that makes packages: it loads them into an empty registry by the rule that the package
// states: for each key the highest revision stands. So packages may come in any
// order, and twice. The error is ErrOutOfOrder when two packages give one revision
// different contents, or ErrPackage. Verify first whether a package is whole.
func Replay(packages ...fs.FS) (Holdings, error) {
	s := Holdings{OperationRow: {}, VisitRow: {}}
	for _, p := range packages {
		if err := s.load(p); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func (s Holdings) load(p fs.FS) error {
	d, err := readDescriptor(p)
	if err != nil {
		return err
	}
	for _, r := range d.Resources {
		kind := map[string]string{"operations": OperationRow, "followups": VisitRow}[r.Name]
		if kind == "" {
			continue
		}
		roles, err := r.roles(kind)
		if err != nil {
			return err
		}
		if err := s.table(p, r.Path, kind, roles); err != nil {
			return err
		}
	}
	return nil
}

// described is what Replay needs of datapackage.json.
type described struct {
	Resources []describedResource `json:"resources"`
}

type describedResource struct {
	Name   string `json:"name"`
	Path   string `json:"path"`
	Schema struct {
		Fields []describedField `json:"fields"`
	} `json:"schema"`
	Alternatives []alternative `json:"alternatives"`
}

type describedField struct {
	Name string `json:"name"`
	Type string `json:"type"`
	Role string `json:"role"`
}

func readDescriptor(p fs.FS) (described, error) {
	var d described
	data, err := fs.ReadFile(p, DescriptorName)
	if err != nil {
		return d, fmt.Errorf("%w: %s cannot be read", ErrPackage, DescriptorName)
	}
	if err := json.Unmarshal(data, &d); err != nil {
		return d, fmt.Errorf("%w: %s is not the description of one", ErrPackage, DescriptorName)
	}
	for _, r := range d.Resources {
		if !fs.ValidPath(r.Path) {
			return d, fmt.Errorf("%w: a path leads out of the folder", ErrPackage)
		}
	}
	return d, nil
}

// roles is the place of each role among the columns.
func (r describedResource) roles(kind string) (map[string]int, error) {
	out := map[string]int{}
	for i, f := range r.Schema.Fields {
		if f.Role != "" {
			out[f.Role] = i
		}
	}
	need := []string{"row-key", "revision", "change"}
	if kind == VisitRow {
		need = append(need, "visit-key")
	}
	for _, role := range need {
		if _, ok := out[role]; !ok {
			return nil, fmt.Errorf("%w: no column of %s is the %s", ErrPackage, r.Name, role)
		}
	}
	return out, nil
}

func (s Holdings) table(p fs.FS, path, kind string, roles map[string]int) error {
	f, err := p.Open(path)
	if err != nil {
		return fmt.Errorf("%w: a table cannot be read", ErrPackage)
	}
	defer f.Close()
	r := csv.NewReader(f)
	if _, err := r.Read(); err != nil {
		return fmt.Errorf("%w: a table has no header", ErrPackage)
	}
	control := map[int]bool{}
	for role, i := range roles {
		control[i] = role != "person-key"
	}
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("%w: a table is not CSV by RFC 4180", ErrPackage)
		}
		if err := s.row(kind, record, roles, control); err != nil {
			return err
		}
	}
}

func (s Holdings) row(kind string, record []string, roles map[string]int, control map[int]bool) error {
	if len(record) <= slices.Max(places(control)) {
		return fmt.Errorf("%w: a row is too short", ErrPackage)
	}
	cell := func(role string) string { return record[roles[role]] }
	revision, err := strconv.Atoi(cell("revision"))
	if err != nil || revision < 1 {
		return fmt.Errorf("%w: a revision is no number", ErrPackage)
	}
	next := Standing{Revision: revision, Withdrawn: cell("change") == changeWithdrawn}
	key := cell("row-key")
	if kind == VisitRow {
		key, next.Operation = cell("visit-key"), cell("row-key")
	}
	if !next.Withdrawn {
		for i, text := range record {
			if !control[i] {
				next.Cells = append(next.Cells, strings.Clone(text))
			}
		}
	}
	have, known := s[kind][key]
	switch {
	case known && have.Revision > revision:
	case known && have.Revision == revision:
		if have.Withdrawn != next.Withdrawn || have.Operation != next.Operation || !slices.Equal(have.Cells, next.Cells) {
			return ErrOutOfOrder
		}
	default:
		s[kind][key] = next
	}
	return nil
}

func places(set map[int]bool) []int {
	out := []int{0}
	for i := range set {
		out = append(out, i)
	}
	return out
}

// ErrOutOfOrder: two packages give one revision of a row different contents.
var ErrOutOfOrder = errors.New("month: two packages give one revision of a row different contents")
