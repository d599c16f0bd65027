package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"graftnote/schema"
)

func (a *app) setupCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "setup DIR",
		Short: "Make a folder with site settings, row key and standing technique",
		Long: `Makes a folder for one hospital or surgeon:

  site.yaml        settings of the site, each with its meaning
  technique.yaml   a blank standing technique
  row.key          a fresh random key for the pseudonyms of registry rows
  .gitignore       keeps the key and the products out of version control

Keep a copy of the key in a safe place: without it the rows that were sent can
never be linked to their cases again. A file that exists is never replaced.`,
		Example: "  graftnote setup lindow",
		Args:    needArgs(1, 1, "a folder"),
		RunE:    func(_ *cobra.Command, args []string) error { return a.setup(args[0]) },
	}
}

func (a *app) setup(dir string) error {
	key, err := newKey(a.env.random)
	if err != nil {
		return &fault{status: statusIO, text: "no random numbers: " + err.Error()}
	}
	files := []struct {
		name, text string
		mode       fs.FileMode
	}{
		{".gitignore", ignoreText(), 0o600},
		{siteName, blankSite(keyName), 0o600},
		{techniqueName, blankTechnique(), 0o600},
		{keyName, key, 0o600},
	}
	for _, f := range files { // refuse before anything is written
		if _, err := os.Lstat(filepath.Join(dir, f.name)); err == nil {
			return &fault{status: statusIO, text: filepath.Join(dir, f.name) + " exists already; nothing was written",
				hints: []string{"choose another folder; a row key that is lost or replaced cannot be made again"}}
		}
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return unwritten(dir, err)
	}
	for _, f := range files {
		path := filepath.Join(dir, f.name)
		if err := writeNew(path, f.text, f.mode); err != nil {
			return err
		}
		a.print.line("wrote %s", path)
	}
	a.print.line("\nNext: fill in %s, then  graftnote new --to case.yaml", filepath.Join(dir, siteName))
	return nil
}

func ignoreText() string {
	var b strings.Builder
	b.WriteString("# Keys and products hold or lead to patient data.\n*.key\n")
	for _, k := range kinds {
		fmt.Fprintf(&b, "*.%s\n", k.kind)
	}
	fmt.Fprintf(&b, "%s*\n*.backup\n%s*\n", casebookName, tempPrefix)
	return b.String()
}

// siteLines are the settings of a site file with their meaning, in order. The
// keys are those of schema.Site; a test holds the two together.
var siteLines = []struct{ key, example, meaning string }{
	{"name", "Lindow Eye Unit", "The name printed when the entry gives none."},
	{"code", "LEU", "A short code of the site. It is part of no file name and of no row."},
	{"zone", "Europe/London", "The IANA name of the time zone."},
	{"language", "en-GB", "The language of the note, as a BCP 47 tag."},
	{"paper", "a4", "a4 or letter."},
	{"profiles", "[hl7-operative-note, surgical-college]", "The bodies whose lists of contents block sign-off here: " + "{profiles}."},
	{"identifiers", `{patient: "https://lindow.example/patient"}`, "The URI that stands for each kind of number in the bundle: patient, practitioner, organization, location, encounter, tissue, note."},
	{"create-patient", "false", "Whether the bundle makes the patient when the server has none."},
	{"meta-profiles", `{Procedure: "https://receiver.example/StructureDefinition/procedure"}`, "Profiles that the receiver asks for, by type of resource."},
	{"mapping", "mapping.csv", "A file of the site's own and licensed codes, with the columns concept, side, system, code, display, version and licence_held_by."},
	{"phrases", "phrases", "A folder of the site's own phrases for the note."},
	{"row-key", keyName, "The file of the key for pseudonyms. No row is written without it."},
	{"row-columns", "[eye, indication]", "A choice of the registry columns; without it all are written."},
	{"small", "false", "Set to true when the site does few grafts a year: rare indications are then pointed out."},
}

const siteHead = `# Site settings of graftnote. Take away the # of the lines that you need. Names of
# files count from this folder.
`

// blankSite is a commented site file; rowKey names the key that lies beside it.
func blankSite(rowKey string) string {
	var profiles []string
	for _, p := range schema.Content().Profiles {
		profiles = append(profiles, p.Key)
	}
	var b strings.Builder
	b.WriteString(siteHead)
	for _, l := range siteLines {
		meaning := strings.ReplaceAll(l.meaning, "{profiles}", strings.Join(profiles, ", "))
		fmt.Fprintf(&b, "\n%s\n", "# "+strings.ReplaceAll(wrap(meaning, textWidth, ""), "\n", "\n# "))
		mark := "# "
		if l.key == "row-key" && rowKey != "" {
			mark = ""
		}
		fmt.Fprintf(&b, "%s%s: %s\n", mark, l.key, l.example)
	}
	return b.String()
}
