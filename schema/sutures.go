package schema

import (
	"slices"

	"graftnote/schema/quantity"
)

// Apart gives the size and the material written with one suture where they are
// not the words of the entry's own fields; "" where they agree or were not written.
// Two running sutures of different size have no size in common.
func (e *Entry) Apart(s quantity.Stitches) (gauge, material string) {
	return apart(&e.Sutures.Gauge, s.Gauge), apart(&e.Sutures.Material, s.Material)
}

func apart(f *Answer[Code], own string) string {
	if own == "" || own == f.Text() || own == f.Words() {
		return ""
	}
	return own
}

// stitchCode is the code that a size or a material written with a suture stands for.
func stitchCode(path, word string) string {
	if code, ok := words().Materials[word]; ok && path == "sutures.material" {
		return code
	}
	return word
}

// Mixed reports whether a field of the sutures, size or material, cannot answer
// for all of them.
func (e *Entry) Mixed(path string) bool {
	all := e.Sutures.Running.Value()
	if f := e.Sutures.Interrupted; f.Recorded() {
		all = append(slices.Clone(all), f.Value())
	}
	for _, s := range all {
		gauge, material := apart(&e.Sutures.Gauge, s.Gauge), apart(&e.Sutures.Material, stitchCode("sutures.material", s.Material))
		if path == "sutures.gauge" && gauge != "" || path == "sutures.material" && material != "" {
			return true
		}
	}
	return false
}
