package fhir

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"sync"
)

// The model marshals each value through a method of its own, and what it lacks
// must be added to the result. Going through text and back took most of the time
// of a bundle, so the tree is read off the model's structs: the same field names
// and the same omissions, held equal to the model's own JSON by a test.

// member is one field of a model struct.
type member struct {
	index     int
	name      string
	omitEmpty bool
}

var (
	members    sync.Map // reflect.Type to []member
	numberType = reflect.TypeFor[json.Number]()
	coder      = reflect.TypeFor[interface{ Code() string }]()
	marshaler  = reflect.TypeFor[json.Marshaler]()
)

func membersOf(t reflect.Type) []member {
	if m, ok := members.Load(t); ok {
		return m.([]member)
	}
	var out []member
	for i := range t.NumField() {
		name, options, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		if name != "" && name != "-" {
			out = append(out, member{i, name, strings.Contains(options, "omitempty")})
		}
	}
	members.Store(t, out)
	return out
}

// anyTree turns a model value into maps, lists and scalars.
func anyTree(v any) (any, error) { return treeOf(reflect.ValueOf(v)) }

func treeOf(v reflect.Value) (any, error) {
	if !v.IsValid() {
		return nil, nil
	}
	t := v.Type()
	switch {
	case t.Kind() == reflect.Pointer || t.Kind() == reflect.Interface:
		if v.IsNil() {
			return nil, nil
		}
		return treeOf(v.Elem())
	case t == numberType:
		n := json.Number(v.String())
		if _, err := strconv.ParseFloat(v.String(), 64); err != nil {
			return nil, fmt.Errorf("fhir: a number is empty or no number")
		}
		return n, nil
	case t.Kind() == reflect.Int && t.Implements(coder):
		return v.Interface().(interface{ Code() string }).Code(), nil
	}
	switch t.Kind() {
	case reflect.String:
		return v.String(), nil
	case reflect.Bool:
		return v.Bool(), nil
	case reflect.Int, reflect.Int64:
		return json.Number(strconv.FormatInt(v.Int(), 10)), nil
	case reflect.Struct:
		return structTree(v, t)
	case reflect.Slice:
		return sliceTree(v)
	case reflect.Map:
		return mapTree(v)
	}
	return nil, fmt.Errorf("fhir: no JSON for %s", t)
}

// structTree: a struct with a MarshalJSON of its own is a resource, which names
// its type.
func structTree(v reflect.Value, t reflect.Type) (any, error) {
	out := make(map[string]any, 8)
	for _, m := range membersOf(t) {
		f := v.Field(m.index)
		if m.omitEmpty && isEmpty(f) {
			continue
		}
		x, err := treeOf(f)
		if err != nil {
			return nil, err
		}
		out[m.name] = x
	}
	if t.Implements(marshaler) {
		out["resourceType"] = t.Name()
	}
	return out, nil
}

func sliceTree(v reflect.Value) (any, error) {
	if v.IsNil() {
		return nil, nil
	}
	out := make([]any, v.Len())
	for i := range out {
		var err error
		if out[i], err = treeOf(v.Index(i)); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func mapTree(v reflect.Value) (any, error) {
	out := make(map[string]any, v.Len())
	for it := v.MapRange(); it.Next(); {
		x, err := treeOf(it.Value())
		if err != nil {
			return nil, err
		}
		out[it.Key().String()] = x
	}
	return out, nil
}

// isEmpty is what encoding/json leaves out under omitempty.
func isEmpty(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Slice, reflect.Map, reflect.String:
		return v.Len() == 0
	case reflect.Bool, reflect.Int, reflect.Int64, reflect.Pointer, reflect.Interface:
		return v.IsZero()
	}
	return false
}
