// Package templates holds the words of the note as text that a surgeon can read
// and correct. It knows no Go type of the project and makes no choice: which
// sentence fits is said in the files, by what the entry must say for it.
package templates

import "embed"

// FS holds the phrase files by language.
//
//go:embed en
var FS embed.FS

// Registries holds the profiles of receiving registries, one YAML file each.
//
//go:embed registries/*.yaml
var Registries embed.FS
