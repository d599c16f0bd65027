package schema_test

import (
	"strings"
	"testing"

	"graftnote/schema"
)

// A usual range of one number is said as that number.
func TestUsualRangeOfOneNumber(t *testing.T) {
	text := strings.Replace(string(readFile(t, samples+"/01-double-bubble.yaml").Data), "quadrants: 4", "quadrants: 3", 1)
	r := schema.Read(schema.Source{Name: "a.yaml", Data: []byte(text)}, options())
	for _, f := range check(t, r.Cases[0], options(), nil).Findings() {
		if f.Path == "dissection.quadrants" {
			if f.What != "Quadrants completed: not the usual 4." {
				t.Error(f.What)
			}
			return
		}
	}
	t.Error("three quadrants are usual")
}
