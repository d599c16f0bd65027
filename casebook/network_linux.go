package casebook

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"

	"golang.org/x/sys/unix"
)

// networkMagic are the file system types of statfs(2) that keep their data on
// another machine (Linux uapi/linux/magic.h and the file systems' own sources).
var networkMagic = []uint32{
	0x6969,     // nfs
	0x517B,     // smb
	0xFE534D42, // smb2
	0xFF534D42, // cifs
	0x5346414F, // afs
	0x6B414653, // afs, kernel client
	0x73757245, // coda
	0x564C,     // ncp
	0x01021997, // 9p
	0x00C36400, // ceph
	0x0BD00BD0, // lustre
	0x01161970, // gfs2
	0x7461636F, // ocfs2
	0x786F4256, // shared folder of a virtual machine
}

// fuseMagic covers local and network file systems alike; the mount table tells.
const fuseMagic = 0x65735546

var networkFuse = []string{"fuse.sshfs", "fuse.rclone", "fuse.glusterfs", "fuse.s3fs", "fuse.davfs", "fuse.smbnetfs", "fuse.ceph", "fuse.nfs"}

// networkFolder reports whether the folder, or the nearest one above it that
// exists, lies on a network file system.
func networkFolder(dir string) bool {
	var s unix.Statfs_t
	for unix.Statfs(dir, &s) != nil {
		up := filepath.Dir(dir)
		if up == dir {
			return false
		}
		dir = up
	}
	magic := uint32(s.Type)
	if slices.Contains(networkMagic, magic) {
		return true
	}
	if magic != fuseMagic {
		return false
	}
	mounts, err := os.ReadFile("/proc/self/mountinfo")
	return err == nil && slices.Contains(networkFuse, fuseKind(mounts, dir))
}

// fuseKind finds the file system type of the innermost mount that holds dir, in
// the form of proc(5), mountinfo.
func fuseKind(mounts []byte, dir string) string {
	best, kind := -1, ""
	for line := range bytes.Lines(mounts) {
		left, right, ok := bytes.Cut(line, []byte(" - "))
		f, g := bytes.Fields(left), bytes.Fields(right)
		if !ok || len(f) < 5 || len(g) < 1 {
			continue
		}
		point := string(f[4])
		if rel, err := filepath.Rel(point, dir); err == nil && (rel == "." || filepath.IsLocal(rel)) && len(point) > best {
			best, kind = len(point), string(g[0])
		}
	}
	return kind
}
