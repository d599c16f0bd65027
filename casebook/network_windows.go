package casebook

import (
	"path/filepath"
	"strings"

	"golang.org/x/sys/windows"
)

// networkFolder reports whether the folder is a share, by its path or by the
// kind of its drive.
func networkFolder(dir string) bool {
	volume := filepath.VolumeName(dir)
	if strings.HasPrefix(volume, `\\`) {
		return true
	}
	root, err := windows.UTF16PtrFromString(volume + `\`)
	return err == nil && windows.GetDriveType(root) == windows.DRIVE_REMOTE
}
