package fhir

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

func ptr[T any](v T) *T { return &v }

// resource is the tree of one resource of the model with what the model lacks.
// Numbers keep their text: 8.50 stays 8.50.
func resource(r any, extra map[string]any) (map[string]any, error) {
	tree, err := asTree(r)
	if err != nil {
		return nil, err
	}
	for k, v := range extra {
		if tree[k], err = anyTree(v); err != nil {
			return nil, err
		}
	}
	return tree, nil
}

// alone writes a resource that stands in no bundle.
func alone(r any, extra map[string]any) ([]byte, error) {
	tree, err := resource(r, extra)
	if err != nil {
		return nil, err
	}
	return encode(tree)
}

func asTree(r any) (map[string]any, error) {
	v, err := anyTree(r)
	if err != nil {
		return nil, err
	}
	tree, ok := v.(map[string]any)
	if !ok {
		return nil, fmt.Errorf("fhir: %T is no JSON object", r)
	}
	return tree, nil
}

// encode writes a tree without blanks: resourceType first, since readers look
// for it there, then the keys in order. It refuses what FHIR JSON does not know
// (null, empty arrays, objects and strings) and the model's mark for an enum out
// of range, so a fault of this program can't leave it.
func encode(tree map[string]any) ([]byte, error) {
	var out bytes.Buffer
	if err := write(&out, "", tree); err != nil {
		return nil, fmt.Errorf("fhir: %w", err)
	}
	return out.Bytes(), nil
}

func write(out *bytes.Buffer, at string, v any) error {
	switch v := v.(type) {
	case map[string]any:
		return writeObject(out, at, v)
	case []any:
		if len(v) == 0 {
			return fmt.Errorf("%s is an empty array", at)
		}
		out.WriteByte('[')
		for i, x := range v {
			if i > 0 {
				out.WriteByte(',')
			}
			if err := write(out, at, x); err != nil {
				return err
			}
		}
		out.WriteByte(']')
	case string:
		if strings.TrimSpace(v) == "" || v == "<unknown>" {
			return fmt.Errorf("%s is empty or out of range", at)
		}
		return scalar(out, v)
	case nil:
		return fmt.Errorf("%s is null", at)
	default:
		return scalar(out, v)
	}
	return nil
}

func writeObject(out *bytes.Buffer, at string, v map[string]any) error {
	if len(v) == 0 {
		return fmt.Errorf("%s is an empty object", at)
	}
	keys := make([]string, 0, len(v))
	for k := range v {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b string) int {
		if a == b {
			return 0
		}
		if a == "resourceType" || b != "resourceType" && a < b {
			return -1
		}
		return 1
	})
	out.WriteByte('{')
	for i, k := range keys {
		if i > 0 {
			out.WriteByte(',')
		}
		if err := scalar(out, k); err != nil {
			return err
		}
		out.WriteByte(':')
		if err := write(out, at+"."+k, v[k]); err != nil {
			return err
		}
	}
	out.WriteByte('}')
	return nil
}

// scalar writes text, number or boolean; < and & of the narrative stay as they
// are, which halves its size.
func scalar(out *bytes.Buffer, v any) error {
	if s, ok := v.(string); ok && plain(s) {
		out.WriteByte('"')
		out.WriteString(s)
		out.WriteByte('"')
		return nil
	}
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return err
	}
	out.Truncate(out.Len() - 1) // the encoder's line feed
	return nil
}

// plain reports that a text needs no escape: most do not, the PDF above all.
func plain(s string) bool {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c > '~' || c == '"' || c == '\\' {
			return false
		}
	}
	return true
}

// dropStrangers leaves out the people whom nothing refers to, such as the signer
// of a note that is not yet signed. Those who are taken back stay.
func dropStrangers(bundle map[string]any, reached map[string]bool) {
	entries, _ := bundle["entry"].([]any)
	bundle["entry"] = slices.DeleteFunc(entries, func(e any) bool {
		m, _ := e.(map[string]any)
		res, _ := m["resource"].(map[string]any)
		url, _ := m["fullUrl"].(string)
		return res["resourceType"] == "Practitioner" && !reached[url] && res["active"] != false
	})
}

// references visits every Reference.reference below v.
func references(v any, visit func(string)) {
	switch v := v.(type) {
	case map[string]any:
		if r, ok := v["reference"].(string); ok {
			visit(r)
		}
		for _, x := range v {
			references(x, visit)
		}
	case []any:
		for _, x := range v {
			references(x, visit)
		}
	}
}

// dangling is the first urn:uuid reference that leads to no entry.
func dangling(bundle map[string]any, reached map[string]bool) string {
	targets := map[string]bool{}
	entries, _ := bundle["entry"].([]any)
	for _, e := range entries {
		if m, ok := e.(map[string]any); ok {
			if u, ok := m["fullUrl"].(string); ok {
				targets[u] = true
			}
		}
	}
	var lost string
	for r := range reached {
		if strings.HasPrefix(r, "urn:") && !targets[r] && (lost == "" || r < lost) {
			lost = r
		}
	}
	return lost
}
