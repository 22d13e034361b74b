package sqlite

import (
	"path/filepath"
	"strings"
	"syscall"
	"unsafe"
)

// driveRemote is DRIVE_REMOTE of GetDriveTypeW.
const driveRemote = 4

var getDriveType = syscall.NewLazyDLL("kernel32.dll").NewProc("GetDriveTypeW")

func onNetwork(folder string) bool {
	full, err := filepath.Abs(folder)
	if err != nil {
		return false
	}
	volume := filepath.VolumeName(full)
	if strings.HasPrefix(volume, `\\`) {
		return true // a path \\server\share
	}
	root, err := syscall.UTF16PtrFromString(volume + `\`)
	if err != nil || getDriveType.Find() != nil {
		return false
	}
	kind, _, _ := getDriveType.Call(uintptr(unsafe.Pointer(root)))
	return kind == driveRemote
}
