package casebook

import (
	"strings"
	"time"

	"graftnote/schema"
)

var (
	schemaZero schema.Checked
	zeroTime   time.Time
)

// replaceOnce fails loudly when there is nothing to replace.
func replaceOnce(s, old, new string) string {
	if !strings.Contains(s, old) {
		panic("nothing to replace")
	}
	return strings.Replace(s, old, new, 1)
}
