package casebook

import (
	"context"
	"database/sql"
	"slices"

	"graftnote/schema"
)

// Earlier is an entry of an earlier case, as signed.
type Earlier struct {
	Case  string
	Entry []byte
}

// Alike names the earlier cases that a new canonical entry is too much like:
// copying an earlier note forward is a known hazard. Only what depends on the
// case is compared: measured and coded fields that are no habit of the surgeon,
// without the values that most entries share.
func Alike(entry []byte, earlier []Earlier) []string {
	mine := telling(entry)
	sets := make([]map[string]string, len(earlier))
	whole := make([]bool, len(earlier))
	c := content().Alike
	for i, e := range earlier {
		sets[i] = telling(e.Entry)
		equal, of := agree(mine, sets[i])
		// Many copies make their values common; a copy of all of them stays one.
		whole[i] = of >= c.Fields && equal == of
	}
	dropCommon(mine, sets)
	var out []string
	for i, theirs := range sets {
		equal, of := agree(mine, theirs)
		if whole[i] || of >= c.Fields && 100*equal >= c.Share*of {
			out = append(out, earlier[i].Case)
		}
	}
	return out
}

// AlikeError says that an entry looks like a copy of cases that the signer has not
// said to be other operations.
type AlikeError struct{ Cases []string }

// Error names the first of the cases; their identifiers are random by design.
func (e AlikeError) Error() string {
	return "the entry looks like a copy of case " + e.Cases[0] + ", which was not said to be another operation"
}

// Likenesses names for each new entry the cases that it is too much like: the
// signer's last ones, and those of the same run that stand before it. What an
// interrupted run of the same entries has signed counts among these, not among the
// last: the questions stay the same.
func (c *Casebook) Likenesses(ctx context.Context, signer string, entries []Earlier) (alike [][]string, err error) {
	err = c.s.read(ctx, func(x tx) error {
		alike = nil
		last, err := lastOf(x, signer, len(entries))
		if err != nil {
			return err
		}
		last = slices.DeleteFunc(last, func(l Earlier) bool {
			return slices.ContainsFunc(entries, func(e Earlier) bool { return e.Case == l.Case })
		})
		for _, e := range entries {
			alike = append(alike, Alike(e.Entry, without(last, e.Case)))
			last = append([]Earlier{e}, last...)
		}
		return nil
	})
	return alike, err
}

// compared refuses an entry that looks copied, whoever calls: the check stands
// where the signature is made.
func (r SignRequest) compared(x tx) error {
	last, err := lastOf(x, r.Key.public.Name, 1)
	if err != nil {
		return err
	}
	like := slices.DeleteFunc(Alike(r.Checked.Canonical(), without(last, r.Checked.ID())), func(id string) bool { return slices.Contains(r.Different, id) })
	if len(like) > 0 {
		return AlikeError{like}
	}
	return nil
}

// without leaves a case's own entry out, and no more than are looked back at.
func without(last []Earlier, own string) []Earlier {
	last = slices.DeleteFunc(slices.Clone(last), func(e Earlier) bool { return e.Case == own })
	return last[:min(len(last), content().Alike.Last)]
}

// lastOf are the newest entries signed by a person, the newest first: so many more
// than are looked back at as may be left out, since a case is not a copy of itself.
func lastOf(x tx, signer string, more int) ([]Earlier, error) {
	var out []Earlier
	err := x.each("SELECT l.case_id, l.statement FROM casefile c JOIN leaf l ON l.idx = c.entry_idx WHERE c.signer = ? ORDER BY c.entry_idx DESC LIMIT ?", []any{signer, content().Alike.Last + more}, func(rows *sql.Rows) error {
		var e Earlier
		var b []byte
		if err := rows.Scan(&e.Case, &b); err != nil {
			return err
		}
		s, err := readStatement(b)
		if err != nil {
			return ErrDamaged
		}
		e.Entry = s.Entry
		out = append(out, e)
		return nil
	})
	return out, err
}

// agree counts the fields that both have, and those that are equal.
func agree(mine, theirs map[string]string) (equal, of int) {
	for path, text := range mine {
		other, both := theirs[path]
		if !both {
			continue
		}
		of++
		if other == text {
			equal++
		}
	}
	return equal, of
}

// telling are the fields that could tell one case from another.
func telling(entry []byte) map[string]string {
	out := map[string]string{}
	fields, err := fieldsOf(entry)
	if err != nil {
		return out
	}
	c := content().Alike
	for _, f := range fields {
		row, ok := schema.Content().Row(f.row)
		if !ok || row.Habit() || row.Private || slices.Contains(c.Plain, f.text) {
			continue
		}
		if _, measured := row.Dimension(); measured || slices.Contains(c.Types, row.Type) {
			out[f.path] = f.text
		}
	}
	return out
}

// dropCommon removes the values that most of the earlier entries hold: they are
// what this surgeon's cases have in common.
func dropCommon(mine map[string]string, sets []map[string]string) {
	c := content().Alike
	if len(sets) < c.Several {
		return
	}
	for path, text := range mine {
		n := 0
		for _, s := range sets {
			if s[path] == text {
				n++
			}
		}
		if 100*n > c.Common*len(sets) {
			delete(mine, path)
		}
	}
}
