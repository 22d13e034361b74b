//go:build unix

package sqlite

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"soakline/internal/logbook"
)

// asNobody lets a child run as an ordinary user, since root may write
// anywhere. The test program is copied to where that user can start it.
func asNobody(t *testing.T) func(*exec.Cmd) {
	if os.Geteuid() != 0 {
		return nil
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	in, err := os.Open(self)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	copied := filepath.Join(t.TempDir(), "test")
	out, err := os.OpenFile(copied, os.O_CREATE|os.O_WRONLY, 0o755)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(out, in); err != nil {
		t.Fatal(err)
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
	return func(cmd *exec.Cmd) {
		const nobody = 65534
		cmd.Path = copied
		cmd.Dir = os.TempDir()
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody, NoSetGroups: true}}
	}
}

// TestNoPermission opens logbooks as somebody who may not write, or not read.
func TestNoPermission(t *testing.T) {
	prepare := asNobody(t)
	for what, c := range map[string]struct {
		folder, file       os.FileMode
		look, open, create string
	}{
		"all allowed":        {0o777, 0o666, "", "", ""},
		"a read-only folder": {0o555, 0o666, "", logbook.SlugFolderClosed, logbook.SlugFolderClosed},
		"a read-only file":   {0o777, 0o444, "", logbook.SlugReadOnly, ""},
		"an unreadable file": {0o777, 0o000, logbook.SlugNoPermission, logbook.SlugReadOnly, ""},
		"a closed folder":    {0o000, 0o666, logbook.SlugNoPermission, logbook.SlugFolderClosed, logbook.SlugFolderClosed},
	} {
		top := t.TempDir()
		folder := filepath.Join(top, "folder")
		path := filepath.Join(folder, "team.logbook")
		if err := os.Mkdir(folder, 0o755); err != nil {
			t.Fatal(err)
		}
		filled(t, path)
		before, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, step := range []struct {
			name string
			mode os.FileMode
		}{{filepath.Dir(top), 0o755}, {top, 0o755}, {path, c.file}, {folder, c.folder}} {
			if err := os.Chmod(step.name, step.mode); err != nil {
				t.Fatal(err)
			}
		}
		lines, err := start(t, prepare, "try", path).rest()
		if err := os.Chmod(folder, 0o755); err != nil {
			t.Fatal(err)
		}
		want := "look:" + c.look + " open:" + c.open + " create:" + c.create
		if got := strings.Join(lines, " "); got != want || err != nil {
			t.Errorf("%s: %s, want %s (%v)", what, got, want, err)
		}
		if err := os.Chmod(path, 0o644); err != nil {
			t.Fatal(err)
		}
		if now, err := os.ReadFile(path); err != nil || !bytes.Equal(now, before) {
			t.Errorf("%s: the logbook was changed (%v)", what, err)
		}
	}
}
