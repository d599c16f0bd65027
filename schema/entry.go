package schema

import (
	"reflect"
	"strings"
)

// ListState says how a list group was stated.
type ListState struct {
	Stated bool   // present in the entry, even as "none"
	None   bool   // the word none was said
	Reason string // not recorded, and why
	Pos    Pos
	Items  []Pos // where each item begins

	unread bool // something was written that is no list; a finding says so
}

// Unread reports a list of which something was written that is none.
func (s ListState) Unread() bool {
	return s.unread
}

// List is how the list group was stated: a list, none, or not at all.
func (e *Entry) List(group string) ListState { return e.lists[group] }

// Place is where the group stands in the file, or the case when it is absent.
func (e *Entry) Place(group string) Pos {
	if p, ok := e.places[group]; ok {
		return p
	}
	return e.places[""]
}

// indexStructs ties each row to its field of the Go struct, by the json name.
func indexStructs(d *Dictionary) {
	t := reflect.TypeOf(Entry{})
	for _, g := range d.Groups {
		item := t
		if g.Key != "" {
			f, ok := fieldByJSON(t, g.Key)
			if !ok {
				panic("schema: run go generate: no Go field for group " + g.Key)
			}
			g.index = f
			item = t.Field(f).Type
			if g.Many != "" {
				item = item.Elem()
			}
		}
		for _, r := range g.Fields {
			f, ok := fieldByJSON(item, r.Key)
			if !ok {
				panic("schema: run go generate: no Go field for " + r.Path())
			}
			r.index = f
		}
	}
}

func fieldByJSON(t reflect.Type, key string) (int, bool) {
	for i := range t.NumField() {
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		if name == key {
			return i, true
		}
	}
	return 0, false
}

// slot gives the place for one answer; item counts from 0 in list groups.
func (e *Entry) slot(r *Row, item int) slot {
	v := reflect.ValueOf(e).Elem()
	if r.Group.Key != "" {
		v = v.Field(r.Group.index)
		if r.Group.Many != "" {
			v = v.Index(item)
		}
	}
	return v.Field(r.index).Addr().Interface().(slot)
}

// grow adds an item to a list group and returns its number.
func (e *Entry) grow(g *Group) int {
	v := reflect.ValueOf(e).Elem().Field(g.index)
	v.Set(reflect.Append(v, reflect.Zero(v.Type().Elem())))
	return v.Len() - 1
}

// reserve makes room for so many items of a list group at once.
func (e *Entry) reserve(g *Group, n int) {
	v := reflect.ValueOf(e).Elem().Field(g.index)
	v.Grow(n)
}

// Count is the number of items of a list group.
func (e *Entry) Count(group string) int {
	g, ok := Content().Group(group)
	if !ok || g.Many == "" {
		return 0
	}
	return reflect.ValueOf(e).Elem().Field(g.index).Len()
}

// At is the answer at a path of a single group, or nil for an unknown path.
func (e *Entry) At(path string) Field {
	r, ok := Content().Row(path)
	if !ok || r.Group.Many != "" {
		return nil
	}
	return e.slot(r, 0)
}

// Item is the answer at a path of a list group, for the item counted from 0.
func (e *Entry) Item(path string, item int) Field {
	r, ok := Content().Row(path)
	if !ok || r.Group.Many == "" || item < 0 || item >= e.Count(r.Group.Key) {
		return nil
	}
	return e.slot(r, item)
}

// All are the answers at a path: one for a single group, one per item for a
// list group.
func (e *Entry) All(path string) []Field {
	r, ok := Content().Row(path)
	if !ok {
		return nil
	}
	if r.Group.Many == "" {
		return []Field{e.slot(r, 0)}
	}
	out := make([]Field, e.Count(r.Group.Key))
	for i := range out {
		out[i] = e.slot(r, i)
	}
	return out
}

// walk visits every answer in the order of the dictionary.
func (e *Entry) walk(visit func(r *Row, item int, s slot)) {
	for _, g := range Content().Groups {
		n := 1
		if g.Many != "" {
			n = e.Count(g.Key)
		}
		for item := range n {
			for _, r := range g.Fields {
				visit(r, item, e.slot(r, item))
			}
		}
	}
}

// Walk visits every answer, the silent ones too, in dictionary order. Item
// counts from 0 in list groups.
func (e *Entry) Walk(visit func(r *Row, item int, f Field)) {
	e.walk(func(r *Row, item int, s slot) { visit(r, item, s) })
}
