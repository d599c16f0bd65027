// Command gen writes the registry dictionary page and the Table Schema of the
// row, so that the documents always say what the program does.
package main

import (
	"log"
	"os"

	"graftnote/registry"
)

func main() {
	log.SetFlags(0)
	schema, err := registry.TableSchema(registry.Options{})
	if err != nil {
		log.Fatal(err)
	}
	for name, data := range map[string][]byte{
		"../docs/registry-dictionary.md": registry.DictionaryMarkdown(),
		"../docs/row.schema.json":        schema,
	} {
		if err := os.WriteFile(name, data, 0o644); err != nil {
			log.Fatal(err)
		}
	}
}
