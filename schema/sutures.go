package schema

import "graftnote/schema/quantity"

// Apart gives the size and the material written with one suture where they are
// not those of the entry's own fields; "" where they agree or were not written.
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

// Stitching is the interrupted stitches and then each running suture.
func (e *Entry) Stitching() []quantity.Stitches {
	var out []quantity.Stitches
	if f := e.Sutures.Interrupted; f.Recorded() {
		out = append(out, f.Value())
	}
	return append(out, e.Sutures.Running.Value()...)
}

// Mixed reports whether a field of the sutures, size or material, cannot answer
// for all of them.
func (e *Entry) Mixed(path string) bool {
	for _, s := range e.Stitching() {
		gauge, material := e.Apart(s)
		if path == "sutures.gauge" && gauge != "" || path == "sutures.material" && material != "" {
			return true
		}
	}
	return false
}
