package sqlite

import "syscall"

// mntLocal is MNT_LOCAL of sys/mount.h: the file system is stored locally.
const mntLocal = 0x1000

func onNetwork(folder string) bool {
	var s syscall.Statfs_t
	return syscall.Statfs(folder, &s) == nil && s.Flags&mntLocal == 0
}
