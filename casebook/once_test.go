package casebook

import (
	"database/sql"
	"os"
	"path/filepath"
	"testing"
)

// "insert or replace" removes a row without asking the triggers on delete; the
// tables refuse it, also in a casebook made before they knew how.
// Source: https://www.sqlite.org/lang_conflict.html, REPLACE.
func TestTablesRefuseReplace(t *testing.T) {
	for _, made := range []string{"new", "old"} {
		t.Run(made, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "casebook.db")
			if made == "old" {
				oldTables(t, path)
			}
			c, k := opened(t, path)
			sign(t, c, k, "once-1", 1)
			for _, q := range []string{
				"INSERT OR REPLACE INTO leaf SELECT idx, case_id, revision, kind, key_id, 'x', statement, signature FROM leaf",
				"INSERT OR REPLACE INTO leaf SELECT idx + 100, case_id, revision, kind, key_id, 'x', statement, signature FROM leaf",
				"REPLACE INTO hash SELECT idx, x'00' FROM hash",
				"REPLACE INTO checkpoint SELECT size, 'x' FROM checkpoint",
			} {
				if err := c.s.write(t.Context(), func(x tx) error { return x.exec(q) }); err == nil {
					t.Errorf("%s went through", q)
				}
			}
			clean(t, c)
		})
	}
}

// oldTables makes the tables of a casebook as the first two layouts had them.
func oldTables(t *testing.T, path string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	run := func(q string) {
		t.Helper()
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	run("CREATE TABLE schema_version (version INTEGER NOT NULL)")
	for _, name := range []string{"sqlite-1", "sqlite-2"} {
		text, err := schemas.ReadFile("data/" + name + ".sql")
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range splitSQL(string(text)) {
			run(q)
		}
	}
	run("INSERT INTO schema_version VALUES (1), (2)")
	run("INSERT INTO about VALUES ('casebook', '0123456789abcdef0123456789abcdef')")
}
