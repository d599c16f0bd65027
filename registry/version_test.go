package registry

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"testing"
)

// columnsDigest stands for what a receiver has to know of the columns: names, types,
// codes, units and limits of both rows. Titles and meanings may be worded anew.
func columnsDigest() string {
	h := sha256.New()
	for kind, columns := range [][]Column{Columns(), VisitColumns()} {
		for _, c := range columns {
			fmt.Fprintf(h, "%d\t%s\t%s\t%s\t%s\t%s\t%s\t%t\t%t\n", kind, c.Name, c.Type, c.Unit, c.Minimum, c.Maximum, c.Pattern, c.Several, c.Required)
			for _, w := range c.Codes {
				io.WriteString(h, "\t"+w.Code+"\n")
			}
		}
	}
	for _, m := range load().Missing {
		io.WriteString(h, "missing\t"+m.Code+"\n")
	}
	return hex.EncodeToString(h.Sum(nil))
}

// A dictionary whose columns changed has a new version. Without it a registry would
// be told that entries were corrected when only the columns were changed.
func TestChangedColumnsAreANewVersion(t *testing.T) {
	c := load()
	if got := columnsDigest(); got != c.Digests[c.Version] {
		t.Errorf("the columns of version %d were changed: raise the version in columns.yaml and add its digest %s", c.Version, got)
	}
	for v := range c.Digests {
		if v > c.Version {
			t.Errorf("a digest of version %d, and the version is %d", v, c.Version)
		}
	}
}
