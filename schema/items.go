package schema

import (
	"cmp"
	"slices"
	"strconv"

	"go.yaml.in/yaml/v3"
)

// itemKey is the word under which an item of a list carries its name.
const itemKey = "item"

// maxItemName bounds the names of items: more than a case has revisions times
// items.
const maxItemName = 9999

// ItemID names an item of a list group, counted from 0, through every correction
// of the case. In an entry that was never corrected the first item is "1"; an
// item that is taken out takes its name with it, so the others keep theirs.
func (e *Entry) ItemID(group string, item int) string {
	if name := e.itemName(group, item); name > 0 {
		return strconv.Itoa(name)
	}
	return strconv.Itoa(item + 1)
}

// itemName is the name that the entry itself gives to an item, 0 for none.
func (e *Entry) itemName(group string, item int) int {
	if names := e.items[group]; item < len(names) {
		return names[item]
	}
	return 0
}

func (e *Entry) nameItem(group string, item, name int) {
	if e.items == nil {
		e.items = map[string][]int{}
	}
	for len(e.items[group]) <= item {
		e.items[group] = append(e.items[group], 0)
	}
	e.items[group][item] = name
}

// names are those of all items of a group.
func (e *Entry) names(group string) []int {
	out := make([]int, e.Count(group))
	for i := range out {
		out[i] = cmp.Or(e.itemName(group, i), i+1)
	}
	return out
}

// itemName reads the name of an item. Two items of one name would be one in the
// record.
func (r *reader) itemName(e *Entry, g *Group, item int, n *yaml.Node) {
	name, err := strconv.Atoi(n.Value)
	if n.Kind != yaml.ScalarNode || err != nil || name < 1 || name > maxItemName || strconv.Itoa(name) != n.Value || slices.Contains(e.items[g.Key], name) {
		r.node(r.doc, "item-name", n, join(g.Key, itemKey), nil)
		return
	}
	e.nameItem(g.Key, item, name)
}

// nameRest names the items of a list in which some carry a name already.
func (e *Entry) nameRest() {
	for group, names := range e.items {
		highest := slices.Max(names)
		for i := range e.Count(group) {
			if e.itemName(group, i) == 0 {
				highest++
				e.nameItem(group, i, highest)
			}
		}
	}
}

// KeepItems gives the items of a corrected entry the names that they had in the
// entries signed before, the oldest first. An item that carries a name keeps it.
// Of the others each takes the name of the item in force that it is most like; one
// that is like none is new and gets a name that no item of the case ever had.
func (e *Entry) KeepItems(signed []*Entry) {
	if len(signed) == 0 {
		return
	}
	inForce := signed[len(signed)-1]
	for _, g := range Content().Groups {
		if g.Many == "" || e.Count(g.Key) == 0 {
			continue
		}
		highest := 0
		for _, s := range signed {
			for _, name := range s.names(g.Key) {
				highest = max(highest, name)
			}
		}
		e.keepGroup(g, inForce, highest)
	}
}

func (e *Entry) keepGroup(g *Group, inForce *Entry, highest int) {
	names := make([]int, e.Count(g.Key))
	var free []int // items of the entry in force that no item claims by name
	for i := range names {
		names[i] = e.itemName(g.Key, i)
		highest = max(highest, names[i])
	}
	old := inForce.names(g.Key)
	for i, name := range old {
		if !slices.Contains(names, name) {
			free = append(free, i)
		}
	}
	for _, m := range e.likeliest(g, inForce, names, free) {
		names[m.new] = old[m.old]
	}
	for i := range names {
		if names[i] == 0 {
			highest++
			names[i] = highest
		}
	}
	delete(e.items, g.Key)
	for i, name := range names {
		if name != i+1 { // names that are the places need not be written
			for j, n := range names {
				e.nameItem(g.Key, j, n)
			}
			return
		}
	}
}

// likeness of an item to one of the entry in force: from 0, nothing alike, to 1.
type likeness struct {
	new, old int
	share    float64
}

// leastAlike is the share of answers that an item must have in common with an
// earlier one to be the same: a person with a corrected name has the role left.
// Common practice, no source.
const leastAlike = 0.4

// likeliest pairs items with those in force, the most alike first; of equals the
// one that stands nearest to its old place.
func (e *Entry) likeliest(g *Group, inForce *Entry, names, free []int) []likeness {
	var all []likeness
	for i, name := range names {
		if name > 0 {
			continue
		}
		for _, j := range free {
			if share := e.alike(g, i, inForce, j); share >= leastAlike {
				all = append(all, likeness{i, j, share})
			}
		}
	}
	apart := func(l likeness) int { return max(l.new-l.old, l.old-l.new) }
	slices.SortFunc(all, func(a, b likeness) int {
		return cmp.Or(cmp.Compare(b.share, a.share), cmp.Compare(apart(a), apart(b)), cmp.Compare(a.new, b.new), cmp.Compare(a.old, b.old))
	})
	var out []likeness
	newDone, oldDone := map[int]bool{}, map[int]bool{}
	for _, l := range all {
		if !newDone[l.new] && !oldDone[l.old] {
			newDone[l.new], oldDone[l.old] = true, true
			out = append(out, l)
		}
	}
	return out
}

// alike is the share of equal answers of two items (the coefficient of Dice, 1945).
func (e *Entry) alike(g *Group, item int, other *Entry, otherItem int) float64 {
	same, said := 0, 0
	for _, r := range g.Fields {
		a, b := answerText(e.slot(r, item)), answerText(other.slot(r, otherItem))
		if a != "" {
			said++
		}
		if b != "" {
			said++
		}
		if a != "" && a == b {
			same++
		}
	}
	if said == 0 {
		return 1
	}
	return 2 * float64(same) / float64(said)
}

func answerText(s slot) string {
	if reason, ok := s.NotRecorded(); ok {
		return "not recorded: " + reason
	}
	if !s.Recorded() {
		return ""
	}
	return s.Text()
}

// ItemMove is what a correction does to an item of a list group.
type ItemMove struct {
	Group string // key of the group
	ID    string // name of the item
	New   bool   // it was not there before; false: it is taken out
}

// ItemMoves are the items that came and went between two entries of a case.
func ItemMoves(old, corrected *Entry) []ItemMove {
	var out []ItemMove
	for _, g := range Content().Groups {
		if g.Many == "" {
			continue
		}
		a, b := old.names(g.Key), corrected.names(g.Key)
		for _, name := range a {
			if !slices.Contains(b, name) {
				out = append(out, ItemMove{g.Key, strconv.Itoa(name), false})
			}
		}
		for _, name := range b {
			if !slices.Contains(a, name) {
				out = append(out, ItemMove{g.Key, strconv.Itoa(name), true})
			}
		}
	}
	return out
}
