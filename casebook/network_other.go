//go:build !linux && !windows

package casebook

import (
	"path/filepath"
	"strings"
)

// networkFolder knows the places where these systems mount network volumes by
// habit; it is a hint, not a proof.
func networkFolder(dir string) bool {
	dir = filepath.ToSlash(dir)
	for _, prefix := range []string{"//", "/net/", "/Network/"} {
		if strings.HasPrefix(dir, prefix) {
			return true
		}
	}
	return false
}
