package schema

import (
	"encoding/json"
	"maps"
	"slices"

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
	root := sealedNode(top, 0)
	if root == nil {
		return nil, ErrNotCanonical
	}
	return &document{root: root, file: name, lines: []string{string(canonical)}, spent: new(int)}, nil
}

// sealedNode is nil for a value that the canonical form does not hold.
func sealedNode(v any, depth int) *yaml.Node {
	n := &yaml.Node{Line: 1, Column: 1}
	var parts []any
	switch v := v.(type) {
	case string:
		n.Kind, n.Tag, n.Style, n.Value = yaml.ScalarNode, "!!str", yaml.DoubleQuotedStyle, v
	case []any:
		n.Kind, n.Tag = yaml.SequenceNode, "!!seq"
		parts = v
	case map[string]any:
		n.Kind, n.Tag = yaml.MappingNode, "!!map"
		for _, key := range slices.Sorted(maps.Keys(v)) {
			parts = append(parts, key, v[key])
		}
	default:
		return nil
	}
	if depth > maxDepth {
		return nil
	}
	for _, part := range parts {
		item := sealedNode(part, depth+1)
		if item == nil {
			return nil
		}
		n.Content = append(n.Content, item)
	}
	return n
}
