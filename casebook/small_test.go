package casebook

import (
	"time"

	"graftnote/schema"
)

var (
	schemaZero schema.Checked
	zeroTime   time.Time
)
