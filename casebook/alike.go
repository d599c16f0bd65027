package casebook

import (
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
