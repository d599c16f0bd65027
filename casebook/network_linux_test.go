package casebook

import "testing"

// Lines in the form of proc(5), mountinfo.
func TestFuseKind(t *testing.T) {
	mounts := []byte("22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw\n" +
		"40 22 0:35 / /mnt/far rw,nosuid - fuse.sshfs user@far: rw\n" +
		"41 22 0:36 / /mnt/far/near rw - fuse.ntfs-3g /dev/sdb1 rw\n" +
		"broken line\n")
	for dir, want := range map[string]string{"/mnt/far/casebook": "fuse.sshfs", "/mnt/far": "fuse.sshfs", "/mnt/far/near/x": "fuse.ntfs-3g", "/mnt/farther": "ext4", "/": "ext4"} {
		if got := fuseKind(mounts, dir); got != want {
			t.Errorf("%s: %s, want %s", dir, got, want)
		}
	}
	if networkFolder(t.TempDir()) {
		t.Error("a local folder is called a network share")
	}
}
