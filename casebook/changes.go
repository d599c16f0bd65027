package casebook

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"graftnote/schema"
)

// said is one field of a canonical entry: its path with the name of the item
// in list groups (see schema.Entry.ItemID; 0 elsewhere), the path of its dictionary row, and its text.
type said struct {
	path, row, text string
	item            int
}

// fieldsOf reads a canonical entry into its fields, in dictionary order; fields
// that this version does not know stand last. It reads the entry as signed, so an
// entry of an earlier version keeps all it said.
func fieldsOf(entry []byte) ([]said, error) {
	var top map[string]any
	if err := json.Unmarshal(entry, &top); err != nil {
		return nil, errStatement
	}
	var out []said
	add := func(group string, item int, key string, v any) {
		row, path := key, key
		switch {
		case item > 0:
			row, path = group+"."+key, fmt.Sprintf("%s[%d].%s", group, item, key)
		case group != "":
			row, path = group+"."+key, group+"."+key
		}
		out = append(out, said{path, row, textOf(v), item})
	}
	for key, v := range top {
		switch v := v.(type) {
		case map[string]any:
			for k, x := range v {
				add(key, 0, k, x)
			}
		case []any:
			if !ofObjects(v) {
				add("", 0, key, v)
				continue
			}
			for i, item := range v {
				m, _ := item.(map[string]any)
				name := itemName(m, i+1)
				for k, x := range m {
					if k != "item" {
						add(key, name, k, x)
					}
				}
			}
		default:
			add("", 0, key, v)
		}
	}
	order := rowOrder()
	slices.SortFunc(out, func(a, b said) int {
		x, known := order[a.row]
		y, alsoKnown := order[b.row]
		if known != alsoKnown {
			if known {
				return -1
			}
			return 1
		}
		gx, gy := groupOf(a.row), groupOf(b.row)
		if gx == gy {
			if c := cmp.Compare(a.item, b.item); c != 0 {
				return c
			}
		}
		return cmp.Or(cmp.Compare(x, y), cmp.Compare(a.path, b.path))
	})
	return out, nil
}

// itemName is the name that an item carries through all corrections of its case,
// by default its place.
func itemName(item map[string]any, place int) int {
	if text, ok := item["item"].(string); ok {
		if n, err := strconv.Atoi(text); err == nil && n > 0 {
			return n
		}
	}
	return place
}

func ofObjects(v []any) bool {
	for _, x := range v {
		if _, ok := x.(map[string]any); !ok {
			return false
		}
	}
	return len(v) > 0
}

func textOf(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case []any:
		parts := make([]string, len(v))
		for i, x := range v {
			parts[i] = textOf(x)
		}
		return strings.Join(parts, ", ")
	case map[string]any:
		b, _ := json.Marshal(v)
		return string(b)
	}
	return fmt.Sprint(v)
}

func groupOf(row string) string {
	g, _, ok := strings.Cut(row, ".")
	if !ok {
		return ""
	}
	return g
}

// rowOrder numbers the fields of the dictionary.
var rowOrder = sync.OnceValue(func() map[string]int {
	order := map[string]int{}
	for _, g := range schema.Content().Groups {
		for _, r := range g.Fields {
			order[r.Path()] = len(order)
		}
	}
	return order
})

// Changes are the fields that differ between two canonical entries, in dictionary
// order. Items of a list group are compared by their names. The mark
// of the standing technique is left out: it says who typed, not what.
func Changes(old, new []byte) ([]Change, error) {
	a, err := fieldsOf(old)
	if err != nil {
		return nil, err
	}
	b, err := fieldsOf(new)
	if err != nil {
		return nil, err
	}
	before, after := map[string]string{}, map[string]string{}
	for _, f := range a {
		before[f.path] = f.text
	}
	for _, f := range b {
		after[f.path] = f.text
	}
	var out []Change
	add := func(f said) {
		if before[f.path] != after[f.path] && f.row != "from-technique" {
			out = append(out, Change{f.path, before[f.path], after[f.path]})
		}
	}
	for _, f := range merge(a, b) {
		add(f)
	}
	return out, nil
}

// merge keeps the order of the newer entry and puts what only the older one held
// before the field that followed it there.
func merge(a, b []said) []said {
	inNew := map[string]bool{}
	for _, f := range b {
		inNew[f.path] = true
	}
	next := map[string][]said{}
	var waiting []said
	for _, f := range a {
		if !inNew[f.path] {
			waiting = append(waiting, f)
			continue
		}
		next[f.path] = waiting
		waiting = nil
	}
	var out []said
	for _, f := range b {
		out = append(append(out, next[f.path]...), f)
	}
	return append(out, waiting...)
}
