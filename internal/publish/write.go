package publish

import (
	"archive/zip"
	"bufio"
	"compress/flate"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"soakline/internal/words"
)

// Write publishes into the folder dir. It is made, or is there and empty;
// everything is written beside it and moved there when it is whole, so that dir
// is as it was when something fails. It gives Missing, Blocked or Refused for
// what the person can mend.
func Write(ctx context.Context, dir string, in Input) (*Result, error) {
	r, err := prepare(&in)
	if err != nil {
		return nil, err
	}
	if err := r.hidden.inMetadata(r.m); err != nil {
		return nil, err
	}
	if err := free(dir); err != nil {
		return nil, err
	}
	dir = filepath.Clean(dir)
	if err := os.MkdirAll(filepath.Dir(dir), 0o755); err != nil {
		return nil, err
	}
	beside, err := os.MkdirTemp(filepath.Dir(dir), ".soakline-publish-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(beside)
	w := &writer{ctx: ctx, r: r, dir: beside, out: &Result{Contract: 1, Files: []File{}, LeftOut: []LeftOut{}, Messages: []words.Message{}}}
	if err := w.all(); err != nil {
		return nil, err
	}
	if err := os.Chmod(beside, 0o755); err != nil {
		return nil, err
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, refuse("out-there", "dir", dir)
	}
	if err := os.Rename(beside, dir); err != nil {
		return nil, err
	}
	return w.out, nil
}

// free refuses a folder that holds something, or a file.
func free(dir string) error {
	info, err := os.Lstat(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if !info.IsDir() {
		return refuse("out-there", "dir", dir)
	}
	list, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	if len(list) > 0 {
		return refuse("out-there", "dir", dir)
	}
	return nil
}

// writer writes one release into a folder that nobody sees yet.
type writer struct {
	ctx  context.Context
	r    *release
	dir  string
	out  *Result
	step int
}

// steps is how many steps Progress is told of.
const steps = 11

func (w *writer) tick() error {
	w.step++
	if w.r.in.Progress != nil {
		w.r.in.Progress(min(w.step, steps), steps)
	}
	return w.ctx.Err()
}

func (w *writer) all() error {
	r := w.r
	lv, err := r.levels()
	if err != nil {
		return err
	}
	frozen, err := r.freeze()
	if err != nil {
		return err
	}
	w.out.Frozen = frozen
	id := r.packageID(frozen)
	if len(r.keep) > fitRows {
		r.say("no-fit", "n", fitRows)
	}
	if len(r.keep) > workbookRows {
		r.say("no-workbook", "n", workbookRows)
	}
	for _, do := range []func() error{
		func() error { return w.archive(lv, id, frozen) },
		func() error { return w.pack(id) },
		func() error {
			return w.file("deployments.geojson", func(to io.Writer) error { return r.writeGeoJSON(to, lv) })
		},
		w.plans,
		w.workbook,
		func() error { return w.file("release.json", frozen.write) },
		func() error { return w.bytes("CITATION.cff", r.cff()) },
		func() error { return w.bytes("dataset.jsonld", r.jsonLD(lv)) },
		func() error { return w.bytes("datacite.json", r.dataCite(lv)) },
		func() error { return w.bytes("README.md", r.readme(w.out, lv, frozen)) },
		w.model, // the last, since it may use the rows up
	} {
		if err := w.tick(); err != nil {
			return err
		}
		if err := do(); err != nil {
			return err
		}
	}
	if err := w.sums(); err != nil {
		return err
	}
	w.out.Deployments = len(r.keep)
	w.out.LeftOut = append([]LeftOut{}, r.leftOut...)
	w.out.Messages = append(w.out.Messages, r.messages...)
	slices.SortFunc(w.out.Files, func(a, b File) int { return strings.Compare(a.Path, b.Path) })
	return nil
}

// packageID names the data set: by its own address, or by what it holds.
func (r *release) packageID(f *Release) string {
	if r.m.DatasetID != "" {
		if r.m.Version != "" {
			return r.m.DatasetID + "/v" + r.m.Version
		}
		return r.m.DatasetID
	}
	h := sha256.New()
	if err := f.writeRows(h, ""); err != nil {
		panic("publish: a hash cannot fail: " + err.Error())
	}
	h.Write([]byte("\n"))
	return "soakline-" + hex.EncodeToString(h.Sum(nil)[:16])
}

// counter counts and hashes what goes through it.
type counter struct {
	to io.Writer
	h  hash.Hash
	n  int64
}

func (c *counter) Write(b []byte) (int, error) {
	n, err := c.to.Write(b)
	c.n += int64(n)
	c.h.Write(b[:n])
	return n, err
}

// file writes one file and lists it.
func (w *writer) file(name string, do func(io.Writer) error) error {
	path := filepath.Join(w.dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	b := bufio.NewWriterSize(f, 1<<16)
	c := &counter{to: b, h: sha256.New()}
	if err := do(c); err != nil {
		return err
	}
	if err := b.Flush(); err != nil {
		return err
	}
	w.out.Files = append(w.out.Files, File{name, c.n, hex.EncodeToString(c.h.Sum(nil))})
	return f.Close()
}

func (w *writer) bytes(name string, b []byte) error {
	return w.file(name, func(to io.Writer) error {
		_, err := to.Write(b)
		return err
	})
}

// archive writes the Darwin Core Archive: entries in byte order of their names,
// all with the day of publication.
func (w *writer) archive(lv *levels, id string, frozen *Release) error {
	r := w.r
	day, err := time.Parse(time.DateOnly, r.m.Date)
	if err != nil {
		return err
	}
	eml, err := r.emlXML(lv, id, frozen.Changes)
	if err != nil {
		return err
	}
	tables := []table{eventTable, measurementTable, occurrenceTable}
	return w.file("archive.zip", func(to io.Writer) error {
		z := zip.NewWriter(to)
		z.RegisterCompressor(zip.Deflate, func(out io.Writer) (io.WriteCloser, error) { return flate.NewWriter(out, 6) })
		entry := func(name string, do func(io.Writer) error) error {
			e, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: day})
			if err != nil {
				return err
			}
			return do(e)
		}
		raw := func(b []byte) func(io.Writer) error {
			return func(e io.Writer) error { _, err := e.Write(b); return err }
		}
		if err := entry("eml.xml", raw(eml)); err != nil {
			return err
		}
		for _, t := range tables {
			err := entry(t.file, func(e io.Writer) error { return w.table(e, t, lv) })
			if err != nil {
				return err
			}
		}
		if err := entry("meta.xml", raw(metaXML(tables))); err != nil {
			return err
		}
		return z.Close()
	})
}

// table writes one table of the archive, line ends LF as meta.xml says.
func (w *writer) table(to io.Writer, t table, lv *levels) error {
	c := csv.NewWriter(to)
	head := make([]string, len(t.columns))
	for i, name := range t.columns {
		head[i] = termName(name)
	}
	if err := c.Write(head); err != nil {
		return err
	}
	var err error
	switch t.file {
	case eventTable.file:
		w.out.Events, err = w.r.writeEvents(lv, w.stopping(c.Write))
	case measurementTable.file:
		w.out.Measurements, err = w.r.writeMeasurements(w.stopping(c.Write))
	case occurrenceTable.file:
		w.out.Occurrences, err = w.r.writeOccurrences(w.stopping(c.Write))
	}
	if err != nil {
		return err
	}
	c.Flush()
	return c.Error()
}

// stopping looks at the context every thousand lines.
func (w *writer) stopping(write func([]string) error) func([]string) error {
	n := 0
	return func(cells []string) error {
		if n++; n%1000 == 0 {
			if err := w.ctx.Err(); err != nil {
				return err
			}
		}
		return write(cells)
	}
}

// pack writes the Data Package: RFC 4180, line ends CR LF.
func (w *writer) pack(id string) error {
	tables := w.r.resources()
	files := map[string]File{}
	for _, t := range tables {
		err := w.file("datapackage/"+t.name+".csv", func(to io.Writer) error {
			c := csv.NewWriter(to)
			c.UseCRLF = true
			if err := c.Write(t.header()); err != nil {
				return err
			}
			if err := t.each(w.stopping(func(cells []string) error { return c.Write(valid(cells)) })); err != nil {
				return err
			}
			c.Flush()
			return c.Error()
		})
		if err != nil {
			return err
		}
		files[t.name] = w.out.Files[len(w.out.Files)-1]
	}
	return w.bytes("datapackage/datapackage.json", w.r.descriptor(id, tables, files))
}

// valid makes cells valid UTF-8.
func valid(cells []string) []string {
	for i, c := range cells {
		if !utf8.ValidString(c) {
			cells[i] = strings.ToValidUTF8(c, "\uFFFD")
		}
	}
	return cells
}

// sums lists the SHA-256 of every file, as sha256sum -c reads it.
func (w *writer) sums() error {
	files := slices.Clone(w.out.Files)
	slices.SortFunc(files, func(a, b File) int { return strings.Compare(a.Path, b.Path) })
	var b strings.Builder
	for _, f := range files {
		b.WriteString(f.SHA256 + "  " + f.Path + "\n")
	}
	return w.bytes("SHA256SUMS", []byte(b.String()))
}
