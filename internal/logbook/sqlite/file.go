package sqlite

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"soakline/internal/logbook"
)

// header is how every SQLite file begins (https://www.sqlite.org/fileformat.html
// section 1.3.1); the length of a page stands at byte 16.
var header = []byte("SQLite format 3\x00")

// checkFolder tells whether the folder of path is there and, for writing,
// whether files can be made in it: the journal is made beside the logbook.
// The only sure way to know is to make one.
func checkFolder(path string, write bool) error {
	folder := filepath.Dir(path)
	info, err := os.Stat(folder)
	switch {
	case errors.Is(err, fs.ErrPermission):
		return logbook.NewError(logbook.SlugNoPermission, err, "file", folder)
	case err != nil || !info.IsDir():
		return logbook.NewError(logbook.SlugFolderMissing, err, "folder", folder)
	case !write:
		return nil
	}
	probe, err := os.CreateTemp(folder, ".soakline-*")
	if err != nil {
		if e := explainFile(path, err); e != nil && e.Slug == logbook.SlugFull {
			return e
		}
		return logbook.NewError(logbook.SlugFolderClosed, err, "folder", folder)
	}
	return errors.Join(probe.Close(), os.Remove(probe.Name()))
}

// checkFile refuses what is no logbook before the database is asked: SQLite
// would take an empty file for an empty database.
func checkFile(path string, write bool) error {
	if err := checkFolder(path, write); err != nil {
		return err
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return logbook.NewError(logbook.SlugMissing, err, "file", path)
	case err != nil:
		return logbook.NewError(logbook.SlugNoPermission, err, "file", path)
	case !info.Mode().IsRegular():
		return logbook.NewError(logbook.SlugNotALogbook, nil, "file", path)
	}
	how := os.O_RDONLY
	if write {
		how = os.O_RDWR
	}
	f, err := os.OpenFile(path, how, 0)
	if err != nil {
		if errors.Is(err, fs.ErrPermission) && write {
			return logbook.NewError(logbook.SlugReadOnly, err, "file", path)
		}
		return explainOr(path, err)
	}
	defer f.Close()
	return checkHeader(f, path, info.Size())
}

// checkHeader reads the first bytes of a file: not SQLite's, or shorter than
// the header says.
func checkHeader(f io.Reader, path string, size int64) error {
	var head [100]byte
	n, err := io.ReadFull(f, head[:])
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return explainOr(path, err)
	}
	if !bytes.HasPrefix(head[:n], header) {
		return logbook.NewError(logbook.SlugNotALogbook, nil, "file", path)
	}
	if n < len(head) {
		return logbook.NewError(logbook.SlugDamaged, nil, "file", path)
	}
	page := int64(head[16])<<8 | int64(head[17])
	if page == 1 {
		page = 65536
	}
	if page < 512 || size%page != 0 {
		return logbook.NewError(logbook.SlugDamaged, nil, "file", path)
	}
	return nil
}

// tempBeside makes an empty file in the folder of path.
func tempBeside(path string) (string, error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".new-*")
	if err != nil {
		return "", explainOr(path, err)
	}
	return f.Name(), f.Close()
}

// settle gives a finished file its name, without ever replacing another: first
// its bytes are on the disk, then its name.
func settle(temp, path string) error {
	if err := syncFile(temp); err != nil {
		return explainOr(path, err)
	}
	if err := os.Chmod(temp, 0o644); err != nil {
		return explainOr(path, err)
	}
	err := os.Link(temp, path) // fails if the name is taken
	switch {
	case err == nil:
		if err := os.Remove(temp); err != nil {
			return explainOr(path, err)
		}
	case errors.Is(err, fs.ErrExist):
		return logbook.NewError(logbook.SlugExists, err, "file", path)
	default: // a file system without links
		if _, err := os.Lstat(path); err == nil {
			return logbook.NewError(logbook.SlugExists, nil, "file", path)
		}
		if err := os.Rename(temp, path); err != nil {
			return explainOr(path, err)
		}
	}
	return syncFolder(filepath.Dir(path))
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// syncFolder puts a new name on the disk where the system can do that; some
// file systems refuse it, and then there is nothing more to do.
func syncFolder(folder string) error {
	if f, err := os.Open(folder); err == nil {
		_ = f.Sync()
		return f.Close()
	}
	return nil
}
