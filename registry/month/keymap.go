package month

import (
	"encoding/base32"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"graftnote/registry"
)

// KeyMap holds the random keys of rows, by case and visit. It never leaves the
// hospital: whoever has it can link every row to its patient.
type KeyMap struct {
	operations, visits map[string]string
	used               map[string]bool
	drawn              []RowKey
}

// NewKeyMap is an empty map.
func NewKeyMap() *KeyMap {
	return &KeyMap{operations: map[string]string{}, visits: map[string]string{}, used: map[string]bool{}}
}

// RowKey ties a random key to what it stands for.
type RowKey struct {
	Kind string `json:"kind"` // OperationRow or VisitRow
	Name string `json:"name"` // case, or case and visit
	Key  string `json:"key"`
}

// List are all keys, in the order of kind and name.
func (k *KeyMap) List() []RowKey {
	var out []RowKey
	for _, kind := range []string{OperationRow, VisitRow} {
		names := k.names(kind)
		for _, name := range slices.Sorted(maps.Keys(names)) {
			out = append(out, RowKey{kind, name, names[name]})
		}
	}
	return out
}

// Drawn are the keys that were drawn since the map was made, in the order of their
// drawing: those that are still to be kept.
func (k *KeyMap) Drawn() []RowKey { return k.drawn }

// Add puts keys that were drawn before into the map. A key or a name that stands
// twice is refused.
func (k *KeyMap) Add(list ...RowKey) error {
	for _, r := range list {
		names := k.names(r.Kind)
		if names == nil || r.Name == "" || names[r.Name] != "" || k.used[r.Key] || len(r.Key) != keyLength {
			return fmt.Errorf("%w: the map of row keys is damaged", ErrRandom)
		}
		k.used[r.Key], names[r.Name] = true, r.Key
	}
	return nil
}

func (k *KeyMap) names(kind string) map[string]string {
	switch kind {
	case OperationRow:
		return k.operations
	case VisitRow:
		return k.visits
	}
	return nil
}

// Len is how many keys were drawn so far.
func (k *KeyMap) Len() int { return len(k.used) }

// Case finds the case behind a key of an operation or a visit, for whoever holds
// the map.
func (k *KeyMap) Case(key string) (caseID string, ok bool) {
	for id, have := range k.operations {
		if have == key {
			return id, true
		}
	}
	for id, have := range k.visits {
		if have == key {
			caseID, _, _ = strings.Cut(id, "/")
			return caseID, true
		}
	}
	return "", false
}

// keyLength is a letter and 130 random bits in base32, as long as the keyed
// hashes of the registry package.
const keyLength = 27

func (k *KeyMap) draw(kind, name, letter string, random io.Reader) (string, error) {
	m := k.names(kind)
	if key, ok := m[name]; ok {
		return key, nil
	}
	for {
		var b [17]byte
		if _, err := io.ReadFull(random, b[:]); err != nil {
			return "", fmt.Errorf("%w: %w", ErrRandom, err)
		}
		text := base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(b[:])
		key := letter + strings.ToLower(text[:keyLength-1])
		if k.used[key] {
			continue
		}
		k.used[key], m[name] = true, key
		k.drawn = append(k.drawn, RowKey{kind, name, key})
		return key, nil
	}
}

// forVisit keeps the pseudonyms of visits apart from the other uses of the key.
const forVisit = "graftnote row visit 1"

// keyring makes the keys of one package.
type keyring struct{ o Options }

func (k keyring) operation(caseID string) (string, error) {
	if k.o.Mode == SafeHarbor {
		return k.o.Keys.draw(OperationRow, caseID, "r", k.o.Rand)
	}
	return registry.RowKey(k.o.Key, caseID), nil
}

func (k keyring) visit(caseID, id string) (string, error) {
	if k.o.Mode == SafeHarbor {
		return k.o.Keys.draw(VisitRow, caseID+"/"+id, "v", k.o.Rand)
	}
	return "v" + registry.Pseudonym(k.o.Key, forVisit, caseID, id), nil
}

// person is "" in the mode that sends no key of the person.
func (k keyring) person(number string) string {
	if k.o.Mode == SafeHarbor {
		return ""
	}
	return registry.PersonKey(k.o.Key, number)
}

// epoch names the key; random keys have none.
func (k keyring) epoch() string {
	if k.o.Mode == SafeHarbor {
		return "random"
	}
	return registry.Epoch(k.o.Key)
}
