package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"graftnote/registry/month"
	"graftnote/schema"
)

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

// months takes the package folders out of the arguments and verifies them: every
// file against the manifest, and the manifest against the casebook's note of it.
func (v *verifier) months(args []string) (rest []string, all []*verified, err error) {
	for _, arg := range args {
		dir, ok := packageFolder(arg)
		if !ok {
			rest = append(rest, arg)
			continue
		}
		one := &verified{File: schema.Visible(filepath.ToSlash(arg)), Kind: "package"}
		all = append(all, one)
		problems, err := month.Verify(os.DirFS(dir))
		if err != nil {
			return nil, nil, &fault{status: statusIO, text: arg + " cannot be verified: " + err.Error()}
		}
		for _, p := range problems {
			one.say("file", fails, "%s", p)
		}
		if len(problems) == 0 {
			one.say("files", holds, "each is as the manifest says, and there is no other")
		}
		if err := v.monthNoted(one, dir); err != nil {
			return nil, nil, err
		}
	}
	return rest, all, nil
}

func (v *verifier) monthNoted(one *verified, dir string) error {
	if v.book == nil {
		one.say("manifest", notShown, "it is not signed; name the casebook that noted the package")
		return nil
	}
	m, err := month.ReadManifest(os.DirFS(dir))
	if err != nil {
		return &fault{status: statusIO, text: fmt.Sprintf("%s cannot be verified: %v", dir, err)}
	}
	raw, err := os.ReadFile(filepath.Join(dir, month.ManifestName))
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
			one.say("manifest", holds, "the casebook noted this one")
			return nil
		default:
			one.say("manifest", fails, "the casebook noted another manifest under this identifier")
			return nil
		}
	}
	one.say("manifest", notShown, "the casebook has not noted this package: it was not made with --submit")
	return nil
}
