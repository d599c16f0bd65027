//go:build !windows

package main

import "io/fs"

// openToOthers reports whether anyone but the owner may read the file.
func openToOthers(m fs.FileMode) bool { return m.Perm()&0o077 != 0 }
