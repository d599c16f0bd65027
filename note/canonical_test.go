package note

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"graftnote/schema"
)

// The written form keeps every member of the signed part, and no member of what
// stands around it. A member that is added is in one of the two.
func TestDocumentIsWrittenWhole(t *testing.T) {
	var d Document
	fill(reflect.ValueOf(&d).Elem(), 3)
	b, err := d.Canonical()
	if err != nil {
		t.Fatal(err)
	}
	again, err := ParseDocument(b)
	if err != nil {
		t.Fatal(err)
	}
	v, w := reflect.ValueOf(d), reflect.ValueOf(again)
	signed := 0
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if f.Tag.Get("json") == "-" {
			if !w.Field(i).IsZero() {
				t.Errorf("%s is written, though it is not signed", f.Name)
			}
			continue
		}
		signed++
		if !reflect.DeepEqual(v.Field(i).Interface(), w.Field(i).Interface()) {
			t.Errorf("%s: %+v became %+v", f.Name, v.Field(i), w.Field(i))
		}
	}
	if signed < 15 {
		t.Errorf("%d members are signed", signed)
	}
	if !bytes.HasPrefix(b, []byte(`{"alerts":`)) || !bytes.Contains(b, []byte(`"format":"graftnote document 1"`)) {
		t.Errorf("%.80s", b)
	}
}

// fill gives every member a value that is not its zero.
func fill(v reflect.Value, deep int) {
	switch v.Kind() {
	case reflect.String:
		v.SetString("é <" + strings.Repeat("x", deep+1) + "> 7.50 \" \u2028")
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int:
		v.SetInt(7)
	case reflect.Uint8:
		v.SetUint(9)
	case reflect.Float64:
		v.SetFloat(-1.0 / 3)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem(), deep)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range 2 {
			fill(v.Index(i), deep-1)
		}
	case reflect.Map:
		v.Set(reflect.MakeMap(v.Type()))
		v.SetMapIndex(reflect.ValueOf("a-key"), reflect.ValueOf("a value"))
	case reflect.Struct:
		if _, moment := v.Interface().(time.Time); moment {
			v.Set(reflect.ValueOf(time.Date(2026, 9, 8, 11, 0, 0, 0, time.UTC)))
			return
		}
		for i := range v.NumField() {
			fill(v.Field(i), deep)
		}
	}
}

// Each sample, written and read again, gives the same text and the same bytes.
func TestSamplesAreWrittenWhole(t *testing.T) {
	p, err := LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob("../testdata/entries/*.yaml")
	if err != nil || len(files) < 10 {
		t.Fatal(files, err)
	}
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		r := schema.Read(schema.Source{Name: name, Data: text}, schema.Options{Now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)})
		for _, cs := range r.Cases {
			c, err := schema.Check(cs, schema.Options{}, nil)
			if err != nil {
				t.Fatal(err)
			}
			d, err := Build(c, p, Options{ToSign: true})
			if err != nil {
				t.Fatal(err)
			}
			b, err := d.Canonical()
			if err != nil {
				t.Fatal(err)
			}
			again, err := ParseDocument(b)
			if err != nil {
				t.Fatal(name, err)
			}
			b2, err := again.Canonical()
			if err != nil || !bytes.Equal(b, b2) {
				t.Errorf("%s: written twice it differs", name)
			}
			so := Signoff{Signatures: []Signature{{Name: "Imara Voss", At: time.Date(2026, 9, 9, 8, 0, 0, 0, time.UTC)}}}
			if d.Sign(so).Text() != again.Sign(so).Text() {
				t.Errorf("%s: the words differ", name)
			}
		}
	}
}

// What can't be placed, or is of another format, is refused: it would be missing
// on the page.
func TestStrangeDocument(t *testing.T) {
	for _, text := range []string{"", "{}", "[]", `{"format":"graftnote document 2"}`, `{"format":"graftnote document 1","more":"x"}`, `{"format":"graftnote document 1"} x`} {
		if _, err := ParseDocument([]byte(text)); err == nil {
			t.Errorf("%q is read", text)
		}
	}
}
