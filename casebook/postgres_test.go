//go:build postgres

package casebook

import "testing"

// The CI builds with this tag to be sure that the shared suite met a server.
func TestPostgresIsUnderTest(t *testing.T) {
	for _, p := range places() {
		if p.name != "postgres" {
			continue
		}
		c, k := opened(t, p.dsn(t))
		sign(t, c, k, "server-1", 1)
		clean(t, c)
		return
	}
	t.Fatal("GRAFTNOTE_TEST_POSTGRES names no server")
}
