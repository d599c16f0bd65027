package main

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"graftnote/registry/month"
	"graftnote/schema"
)

// monthReports are the files that 'month' writes beside a package. They may have
// been taken away: a package goes to the registry without them.
var monthReports = []string{"report.html", "report.pdf"}

// packageFolder reports whether a path is the folder of a month's package, or
// holds one: it has a manifest.
func packageFolder(path string) (folder string, ok bool) {
	for _, dir := range []string{path, filepath.Join(path, "package")} {
		if _, err := os.Stat(filepath.Join(dir, month.ManifestName)); err == nil {
			return dir, true
		}
	}
	return "", false
}

// packageAround is the folder of the package whose manifest lists a file, or a
// file in a folder; "" when it is a part of none.
func packageAround(path string) string {
	if _, err := os.Stat(path); err != nil {
		return ""
	}
	for dir := filepath.Dir(path); ; dir = filepath.Dir(dir) {
		m, err := month.ReadManifest(inputFolder{dir, maxPackaged})
		name, outside := filepath.Rel(dir, path)
		if name = filepath.ToSlash(name); err == nil && outside == nil && (name == month.ManifestName || slices.ContainsFunc(m.Files, func(f month.FileEntry) bool {
			return f.Path == name || strings.HasPrefix(f.Path, name+"/")
		})) {
			return dir
		}
		if dir == filepath.Dir(dir) {
			return ""
		}
	}
}

// months takes the package folders out of the arguments and verifies them: every
// file against the manifest, and the manifest against the casebook's note of it.
func (v *verifier) months(args []string) (rest []string, all []*verified, err error) {
	var done []string
	for _, arg := range spread(args) {
		dir, ok := packageFolder(arg)
		if !ok {
			if whole := packageAround(arg); whole != "" {
				arg, dir, ok = whole, whole, true // a part proves nothing by itself
			}
		}
		if !ok {
			if info, err := os.Stat(arg); err == nil && info.IsDir() {
				v.app.fail(noPackage(arg))
				continue
			}
			rest = append(rest, arg)
			continue
		}
		if slices.Contains(done, filepath.Clean(arg)) {
			continue
		}
		done = append(done, filepath.Clean(arg))
		one := &verified{File: schema.Visible(filepath.ToSlash(arg)), Kind: "package"}
		all = append(all, one)
		problems, err := month.Verify(inputFolder{dir, maxPackaged})
		if err != nil {
			return nil, nil, unverified(arg, err)
		}
		for _, p := range problems {
			one.say("file", fails, "%s", p)
		}
		copies, err := month.ChangedCopies(inputFolder{dir, maxPackaged})
		if err != nil {
			return nil, nil, unverified(arg, err)
		}
		switch {
		case len(problems) > 0:
		case len(copies) > 0:
			one.say("files", holds, "the tables are as the manifest says, and there is no other file")
			one.say("reading", notShown, "%s changed after the package was made: read the tables, not the copies", changedWords(copies))
		default:
			one.say("files", holds, "each is as the manifest says, and there is no other")
		}
		if beside := reportsBeside(arg, dir); len(beside) > 0 {
			one.say("report", remark, "not covered by the manifest: a change in %s would not be seen; 'graftnote month' makes the report again", strings.Join(beside, " and "))
		}
		if err := v.monthNoted(one, dir); err != nil {
			return nil, nil, err
		}
	}
	return rest, all, nil
}

func changedWords(files []string) string {
	if len(files) == 1 {
		return files[0] + " was"
	}
	return schema.JoinWords(files) + " were"
}

// reportsBeside are the reports in a folder that holds the package's folder.
func reportsBeside(folder, inside string) []string {
	var out []string
	for _, name := range monthReports {
		if _, err := os.Stat(filepath.Join(folder, name)); folder != inside && err == nil {
			out = append(out, name)
		}
	}
	return out
}

// noPackage says what a folder lacks that is no month's package.
func noPackage(path string) *fault {
	f := &fault{status: statusIO, text: path + " is a folder and no month's package: neither it nor its folder 'package' holds " + month.ManifestName,
		hints: []string{"for the products in a folder name the files: graftnote verify " + filepath.Join(path, "*")}}
	for _, dir := range []string{path, filepath.Join(path, "package")} {
		if _, err := os.Stat(filepath.Join(dir, month.DescriptorName)); err == nil {
			f.text = dir + " is no whole package: " + month.ManifestName + " is missing, and nothing can be compared without it"
			f.hints = []string{"it is written last, so the package was not finished, or the file was lost on the way: take the folder again from where it was made"}
		}
	}
	return f
}

func unverified(path string, err error) *fault {
	return &fault{status: statusIO, text: path + " cannot be verified: " + strings.TrimPrefix(err.Error(), "month: ")}
}

func (v *verifier) monthNoted(one *verified, dir string) error {
	if v.book == nil {
		one.say("manifest", notShown, "it is not signed; name the casebook that noted the package")
		return nil
	}
	m, err := month.ReadManifest(inputFolder{dir, maxPackaged})
	if err != nil {
		return unverified(dir, err)
	}
	raw, err := readInput(filepath.Join(dir, month.ManifestName), maxPackaged)
	if err != nil {
		return unread(dir, err)
	}
	packages, err := v.book.Packages(context.Background())
	if err != nil {
		return bookFault("the packages sent so far", err)
	}
	for _, p := range packages {
		switch {
		case p.Package != m.Package:
		case p.Manifest == digestHex(raw):
			one.say("manifest", holds, "%s noted this one", v.place)
			return nil
		default:
			one.say("manifest", fails, "the casebook noted another manifest under this identifier")
			return nil
		}
	}
	one.say("manifest", notShown, "the casebook has not noted this package: it was not made with --submit")
	return nil
}
