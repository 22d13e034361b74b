package task

import (
	"context"
	"errors"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"soakline/internal/logbook"
	"soakline/internal/scan"
)

// Scan is a photo or scan of a paper sheet, kept beside a row.
type Scan struct {
	Key    string // of the record that joins them
	Record string // key of the row; empty while there is none
	ID     string // identifier on the sheet
	Source string // SHA-256 of the original, hexadecimal
	Name   string // as the file was called
	Kind   scan.Kind
	Bytes  int64
	Pages  int // pictures of it that can be shown
	Who    string
	When   time.Time
	Gone   bool // its bytes were replaced on request
}

func scanRefusal(err error) error {
	var f *scan.Fault
	if errors.As(err, &f) {
		return &Refused{Slug: f.Slug, With: f.With}
	}
	return err
}

// AddScan keeps the original of a photo or scan with its hash, beside the row
// with this identifier or key; where there is no such row yet, it waits for it.
func AddScan(ctx context.Context, book *logbook.Book, id, name string, data []byte, by By) (s Scan, err error) {
	if id = strings.TrimSpace(id); id == "" {
		return s, refuse("scan-no-row")
	}
	kind, err := scan.KindOf(data)
	if err != nil {
		return s, scanRefusal(err)
	}
	pages, err := scan.Shareable(data)
	if err != nil {
		return s, scanRefusal(err)
	}
	name = filepath.Base(strings.ReplaceAll(name, `\`, "/"))
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		s = Scan{ID: id, Name: name, Kind: kind, Bytes: int64(len(data)), Pages: len(pages), Who: by.Who, When: by.When}
		e, err := one(tx, id, false)
		var no *Refused
		switch {
		case errors.As(err, &no) && no.Slug == "task.no-deployment":
		case err != nil:
			return err
		default:
			s.Record, s.ID = e.Record.Key, e.Deployment.ID
		}
		src, _, err := tx.AddSource(name, data, by.stamp())
		if err != nil {
			return err
		}
		s.Source = src.ID
		of := s.Record
		if of == "" {
			of = s.ID
		}
		code := of + "/" + src.ID
		if err := putCode(tx, kindScan, code, s.fields(), by.stamp()); err != nil {
			return err
		}
		r, _, err := findCode(tx, kindScan, code)
		s.Key = r.Key
		return err
	})
	return s, err
}

func (s Scan) fields() map[string]string {
	return map[string]string{"record": s.Record, "row": s.ID, "source": s.Source, "name": s.Name, "format": string(s.Kind), "pages": itoa(s.Pages)}
}

// Scans lists the photos and scans of a logbook, by row and then as they came.
func Scans(tx *logbook.Tx) ([]Scan, error) {
	var list []Scan
	err := live(tx, kindScan, func(r logbook.Record) error {
		f := r.Fields
		s := Scan{Key: r.Key, Record: f["record"], ID: f["row"], Source: f["source"], Name: f["name"], Kind: scan.Kind(f["format"]), Pages: number(f["pages"])}
		src, err := tx.Source(s.Source)
		if err != nil {
			return err
		}
		s.Bytes, s.Who, s.When, s.Gone = src.Bytes, src.Who, src.When, src.Redacted != nil
		list = append(list, s)
		return nil
	})
	sort.SliceStable(list, func(i, j int) bool { return list[i].ID < list[j].ID })
	return list, err
}

// ScansOf lists those of one row, by its key, or those that wait for an identifier.
func ScansOf(tx *logbook.Tx, key, id string) ([]Scan, error) {
	all, err := Scans(tx)
	var list []Scan
	for _, s := range all {
		if s.Record == key && key != "" || s.Record == "" && s.ID == id {
			list = append(list, s)
		}
	}
	return list, err
}

// linkScans puts the photos that waited for an identifier beside its row.
func linkScans(tx *logbook.Tx, a Added, by By) error {
	waiting, err := ScansOf(tx, "", a.ID)
	if err != nil {
		return err
	}
	for _, s := range waiting {
		r, err := tx.Record(s.Key)
		if err != nil {
			return err
		}
		r.Fields["record"] = a.Key
		if _, err := tx.Put(r, by.stamp()); err != nil {
			return err
		}
	}
	return nil
}

// ScanPages gives the pictures of a scan that may be shown: without position
// and device data.
func ScanPages(ctx context.Context, book *logbook.Book, key string) (pages []scan.Page, s Scan, err error) {
	data, s, err := ScanOriginal(ctx, book, key)
	if err != nil || s.Gone {
		return nil, s, err
	}
	pages, err = scan.Shareable(data)
	return pages, s, scanRefusal(err)
}

// ScanOriginal gives the file as it was taken in, with all that is in it.
func ScanOriginal(ctx context.Context, book *logbook.Book, key string) (data []byte, s Scan, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		all, err := Scans(tx)
		if err != nil {
			return err
		}
		for _, x := range all {
			if x.Key == key {
				s = x
				data, err = tx.Original(x.Source)
				return err
			}
		}
		return refuse("no-scan", "scan", key)
	})
	return data, s, err
}

// scanSources are the originals that are photos of sheets and no datasheets.
func scanSources(tx *logbook.Tx) (map[string]bool, error) {
	all := map[string]bool{}
	err := live(tx, kindScan, func(r logbook.Record) error {
		all[r.Fields["source"]] = true
		return nil
	})
	return all, err
}
