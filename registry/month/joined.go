package month

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"
	"strings"

	"graftnote/registry/disclosure"
)

// ErrJoined: what the registry has had of the rows would, with this package, give
// people away.
var ErrJoined = fmt.Errorf("%w: whoever keeps every version of the rows would find people among fewer than k", disclosure.ErrRefused)

// joined is what a reader knows who kept every version of every row that ever went
// to the registry, answered or not, and joins them by the key of the row.
//
// A version that contradicts the ones before it is a correction: the row goes on
// with it alone, and still counts among those that it agreed with, because nobody
// outside knows which is true of the person.
type joined struct {
	*store
	views  *disclosure.Views
	k      int
	linked bool // the key of the person is on the rows
	rows   []joinedRow
	last   map[string]int32 // newest line of rows for each key
	people map[string]int32
}

type joinedRow struct {
	person, linked int32 // by the record number; by that and the key's epoch
	before         disclosure.View
	first, newest  bool // of the versions of its key; only one where nothing was corrected
	key            string
}

// joinedView says how well people are hidden in it.
type joinedView struct{ rows, k, linkedK int }

// packed are cells by name, as they are kept at home.
func packed(names, cells []string) string {
	var b strings.Builder
	for i, name := range names {
		if i > 0 {
			b.WriteByte('|')
		}
		b.WriteString(name + "=" + cells[i])
	}
	return b.String()
}

// unpacked gives the cells in the order of the names; false when one is not there.
func unpacked(names []string, text string) ([]string, bool) {
	have := map[string]string{}
	for part := range strings.SplitSeq(text, "|") {
		name, cell, _ := strings.Cut(part, "=")
		have[name] = cell
	}
	out := make([]string, len(names))
	for i, name := range names {
		cell, ok := have[name]
		if !ok {
			return nil, false
		}
		out[i] = cell
	}
	return out, true
}

func quasiNames() []string {
	var out []string
	for _, q := range load().Quasi {
		out = append(out, q.Name)
	}
	return out
}

// join folds what was sent before. It is nil when nothing was. A row of a version
// that did not keep its cells counts with all that is known of it.
func (s *store) join(in Input, o Options, set disclosure.Set) (*joined, error) {
	names := quasiNames()
	place := make(map[string]int, len(s.operations))
	for i := range s.operations {
		place[s.operations[i].key] = i
	}
	type version struct {
		*Sent
		cells []string
	}
	var all []version
	kept := map[string][]string{}
	cells := make([][]string, len(names))
	met := make([]map[string]bool, len(names))
	for i := range met {
		met[i] = map[string]bool{}
	}
	note := func(list []string) {
		for i, c := range list[:len(names)] {
			if !met[i][c] {
				met[i][c] = true
				cells[i] = append(cells[i], c)
			}
		}
	}
	for i := range in.Sent {
		r := &in.Sent[i]
		if r.Kind != OperationRow || r.Change == changeWithdrawn {
			continue
		}
		list, ok := kept[r.Cells]
		if !ok {
			list, ok = unpacked(names, r.Cells)
			if ok {
				kept[r.Cells] = list
			} else if at, here := place[r.Key]; here {
				list, ok = set.Rows[at].Values[:len(names)], true
			}
		}
		if ok {
			all = append(all, version{r, list})
			note(list)
		}
	}
	if len(all) == 0 {
		return nil, nil
	}
	for i := range set.Rows {
		note(set.Rows[i].Values)
	}
	for i := range cells {
		slices.Sort(cells[i])
	}
	views, err := disclosure.NewViews(load().Quasi, cells)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(all, func(a, b version) int {
		return cmp.Or(strings.Compare(a.Key, b.Key), cmp.Compare(a.Revision, b.Revision))
	})
	j := &joined{store: s, views: views, k: o.K, linked: o.Mode == Pseudonymised, last: map[string]int32{}, people: map[string]int32{}}
	for _, v := range all {
		view, ok := views.Of(v.cells)
		if !ok {
			return nil, fmt.Errorf("%w: a cell of an earlier package is unknown", ErrInput)
		}
		person := "case " + v.Case
		if at, here := place[v.Key]; here {
			person = s.operations[at].person
		} else if p := s.personOf[v.Case]; p != "" {
			person = p
		}
		j.rows = j.fold(j.rows, j.last, v.Key, person, v.Epoch, view)
	}
	return j, nil
}

// fold adds a version to the rows.
func (j *joined) fold(rows []joinedRow, last map[string]int32, key, person, epoch string, view disclosure.View) []joinedRow {
	at, known := last[key]
	if known {
		if both, ok := j.views.Join(rows[at].before, view); ok {
			rows[at].before = both
			return rows
		}
		rows[at].newest = false
	}
	last[key] = int32(len(rows))
	return append(rows, joinedRow{person: j.number(person), linked: j.number(person + "\n" + epoch), before: view, first: !known, newest: true, key: key})
}

func (j *joined) number(person string) int32 {
	n, known := j.people[person]
	if !known {
		n = int32(len(j.people))
		j.people[person] = n
	}
	return n
}

// after is a row as it would be known with the package.
type after struct {
	joinedRow
	now    disclosure.View
	source int // place in the store, -1 for one that the package says nothing new of
}

// add gives the view with a package of which cells has the cells of each row, nil
// for a row that it leaves out.
func (j *joined) add(cells [][]string, epoch string) ([]after, error) {
	out := make([]after, len(j.rows), len(j.rows)+len(cells)/4)
	for i, r := range j.rows {
		out[i] = after{r, r.before, -1}
	}
	for i, list := range cells {
		if list == nil {
			continue
		}
		o := &j.operations[i]
		view, ok := j.views.Of(list)
		if !ok {
			return nil, fmt.Errorf("%w: a cell is unknown", ErrInput)
		}
		at, known := j.last[o.key]
		if known {
			if both, ok := j.views.Join(out[at].now, view); ok {
				if both != out[at].now {
					out[at].now, out[at].source = both, i
				}
				continue
			}
			out[at].newest = false
		}
		out = append(out, after{joinedRow{person: j.number(o.person), linked: j.number(o.person + "\n" + epoch), first: !known, newest: true, key: o.key}, view, i})
	}
	return out, nil
}

// exposed are the places in the store of rows that must be held back, because with
// them somebody would be hidden among fewer than k people and fewer than before.
func (j *joined) exposed(rows []after) (hold []int, v joinedView) {
	hold, v.k = j.thin(rows)
	linked, n := j.thinLinked(rows)
	v.rows, v.linkedK = len(rows), n
	if j.linked {
		hold = append(hold, linked...)
	}
	slices.Sort(hold)
	return slices.Compact(hold), v
}

// thin looks at classes of rows with one view, counted in people.
func (j *joined) thin(rows []after) (hold []int, least int) {
	before, now := map[disclosure.View]map[int32]struct{}{}, map[disclosure.View]map[int32]struct{}{}
	in := func(m map[disclosure.View]map[int32]struct{}, v disclosure.View, person int32) {
		if v == "" {
			return
		}
		if m[v] == nil {
			m[v] = map[int32]struct{}{}
		}
		m[v][person] = struct{}{}
	}
	for _, r := range rows {
		in(before, r.before, r.person)
		in(now, r.now, r.person)
	}
	left := map[disclosure.View]bool{} // classes that rows went out of, to the harm of the others
	for _, r := range rows {
		n := len(now[r.now])
		if least == 0 || n < least {
			least = n
		}
		switch {
		case n >= j.k || r.before != "" && n >= len(before[r.before]):
		case r.source >= 0:
			hold = append(hold, r.source)
		default:
			left[r.before] = true
		}
	}
	for _, r := range rows {
		if r.source >= 0 && r.before != "" && left[r.before] && r.now != r.before {
			hold = append(hold, r.source)
		}
	}
	return hold, least
}

// thinLinked looks at people whose rows agree row for row. Somebody with a
// corrected row counts among those like the rows before the correction as well.
func (j *joined) thinLinked(rows []after) (hold []int, least int) {
	type person struct {
		before, now, first []disclosure.View
		corrected          bool
		sources            []int
	}
	people := map[int32]*person{}
	for _, r := range rows {
		p := people[r.linked]
		if p == nil {
			p = &person{}
			people[r.linked] = p
		}
		if r.before != "" && (r.newest || r.source < 0 && !r.newest && r.first) {
			p.before = append(p.before, r.before)
		}
		if r.newest {
			p.now = append(p.now, r.now)
		}
		if r.first {
			p.first = append(p.first, r.now)
		}
		p.corrected = p.corrected || !r.newest
		if r.source >= 0 {
			p.sources = append(p.sources, r.source)
		}
	}
	before, now := map[string]int{}, map[string]int{}
	for _, p := range people {
		if len(p.before) > 0 {
			before[signature(p.before)]++
		}
		own := signature(p.now)
		now[own]++
		if p.corrected {
			if was := signature(p.first); was != own {
				now[was]++
			}
		}
	}
	left := map[string]bool{}
	for _, p := range people {
		n := now[signature(p.now)]
		if least == 0 || n < least {
			least = n
		}
		switch {
		case n >= j.k || len(p.before) > 0 && n >= before[signature(p.before)]:
		case len(p.sources) > 0:
			hold = append(hold, p.sources...)
		default:
			left[signature(p.before)] = true
		}
	}
	for _, p := range people {
		if len(p.before) > 0 && left[signature(p.before)] {
			hold = append(hold, p.sources...)
		}
	}
	return hold, least
}

// signature names views without their order.
func signature(views []disclosure.View) string {
	slices.Sort(views)
	var b strings.Builder
	for _, v := range views {
		b.Write(binary.LittleEndian.AppendUint32(nil, uint32(len(v))))
		b.WriteString(string(v))
	}
	return b.String()
}

// settle holds rows of a release back until nobody is hidden worse than the policy
// asks for in all that the registry will have had. The release is the one with
// these rows held back. The error is ErrJoined when too many would have to be.
func (j *joined) settle(set disclosure.Set, policy disclosure.Policy, release *disclosure.Release, epoch string) (*disclosure.Release, joinedView, error) {
	if j == nil {
		return release, joinedView{release.After.Rows, release.After.K, release.After.LinkedK}, nil
	}
	steps := map[string]int{}
	for _, c := range release.Changes {
		steps[c.Column] = c.Step
	}
	policy.AtLeast, policy.AtMost, policy.Withhold = steps, steps, make([]bool, len(set.Rows))
	for {
		cells := make([][]string, len(set.Rows))
		for n, i := range release.Kept {
			cells[i] = release.Set.Rows[n].Values[:len(load().Quasi)]
		}
		rows, err := j.add(cells, epoch)
		if err != nil {
			return nil, joinedView{}, err
		}
		hold, view := j.exposed(rows)
		if len(hold) == 0 {
			return release, view, nil
		}
		for _, i := range hold {
			policy.Withhold[i] = true
		}
		if release, err = disclosure.Protect(set, policy); errors.Is(err, disclosure.ErrRefused) {
			return nil, view, ErrJoined
		} else if err != nil {
			return nil, view, err
		}
	}
}
