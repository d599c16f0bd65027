package schema

import (
	"bytes"
	"encoding/json"
	"sync"

	"go.yaml.in/yaml/v3"
)

// sealedDocument makes a document of canonical bytes. These are JSON whose values
// are texts, lists and objects; a JSON decoder reads them in a fraction of the
// time of the YAML reader that entry files need. The caller compares what was
// understood with the bytes, so that nothing is taken for canonical that is not.
func sealedDocument(name string, canonical []byte) (*document, error) {
	var top map[string]any
	if len(canonical) > MaxFile || json.Unmarshal(canonical, &top) != nil {
		return nil, ErrNotCanonical
	}
	nodes := make([]yaml.Node, 0, bytes.Count(canonical, []byte(`"`))/2+1) // each text is one
	root := sealedNode(&nodes, top, 0)
	if root == nil {
		return nil, ErrNotCanonical
	}
	return &document{root: root, file: name, lines: []string{string(canonical)}, spent: new(int), sealed: true}, nil
}

// knownValues remembers what the texts of signed entries mean. A casebook says the
// same things many times: a gauge, a grade, a code. Names, numbers and stories are
// not kept. A value is never changed once it was read.
var knownValues = struct {
	sync.RWMutex
	at map[knownText][]any
}{at: map[knownText][]any{}}

type knownText struct {
	row  *Row
	text string
}

// maxKnown bounds the memory: some megabytes.
const maxKnown = 50_000

func (r *reader) known(row *Row, n *yaml.Node) ([]any, bool) {
	switch row.Type {
	case "text", "texts", "id", "story", "nhs-number", "european-code", "donation-number", "device-code", "instant":
		return r.scalar(row, n)
	}
	if !r.doc.sealed || len(n.Value) > 100 {
		return r.scalar(row, n)
	}
	key := knownText{row, n.Value}
	knownValues.RLock()
	v, found := knownValues.at[key]
	knownValues.RUnlock()
	if found {
		return v, true
	}
	before := len(r.findings)
	v, ok := r.scalar(row, n)
	if ok && len(r.findings) == before {
		knownValues.Lock()
		if len(knownValues.at) < maxKnown {
			knownValues.at[key] = v
		}
		knownValues.Unlock()
	}
	return v, ok
}

// sealedNode is nil for a value that the canonical form does not hold. The nodes
// of texts stand in one block.
func sealedNode(nodes *[]yaml.Node, v any, depth int) *yaml.Node {
	if depth > maxDepth {
		return nil
	}
	switch v := v.(type) {
	case string:
		if len(*nodes) == cap(*nodes) {
			*nodes = make([]yaml.Node, 0, cap(*nodes))
		}
		*nodes = append(*nodes, yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Style: yaml.DoubleQuotedStyle, Value: v, Line: 1, Column: 1})
		return &(*nodes)[len(*nodes)-1]
	case []any:
		n := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Line: 1, Column: 1, Content: make([]*yaml.Node, 0, len(v))}
		for _, part := range v {
			item := sealedNode(nodes, part, depth+1)
			if item == nil {
				return nil
			}
			n.Content = append(n.Content, item)
		}
		return n
	case map[string]any:
		n := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Line: 1, Column: 1, Content: make([]*yaml.Node, 0, 2*len(v))}
		for key, part := range v { // the reader sorts the keys
			item := sealedNode(nodes, part, depth+1)
			if item == nil {
				return nil
			}
			n.Content = append(n.Content, sealedNode(nodes, key, depth+1), item)
		}
		return n
	}
	return nil
}
