// Package task has one function for each thing a person asks for: make a
// logbook, import a sheet, correct a record, tell the rates, compare, report.
// It owns the transactions; the command and the desk both call it. It prints
// nothing and asks nobody: what is to be told comes back as data, and the
// sentences for it stand in the catalogue of words.
package task

import (
	"context"
	"fmt"
	"sort"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/logbook/sqlite"
	"soakline/internal/sheet"
)

// Kinds of records in a logbook.
const (
	kindDeployment = "deployment"
	kindSite       = "site"
	kindHabitat    = "habitat"
	kindProtocol   = "protocol"
	kindAnswer     = "answer"
	kindMap        = "map"
	kindSettings   = "settings"
	kindTyping     = "typing"
	kindScan       = "scan"
	kindBatch      = "batch"
	kindSample     = "batch_sample"
	kindFound      = "stakes_found"
	kindLeft       = "stakes_left"
	kindPractice   = "practice_answers"
	kindPacking    = "packing"
	kindIntent     = "analysis_plan"
	kindKit        = "kit"
)

// By says who does something, when and why; it becomes the stamp of every
// revision that follows from it.
type By struct {
	Who  string
	When time.Time
	Why  string
}

func (b By) stamp() logbook.Stamp { return logbook.Stamp{Who: b.Who, When: b.When, Why: b.Why} }

// Settings are what a logbook says of itself.
type Settings struct {
	Title     string
	Programme string
	Team      string
	Protocol  string // of records that name none
	Zone      string // proposed for new sites
	Invented  bool   // the demo: every page and file says so
}

// Refused is something that cannot be done as asked: a slug of the catalogue
// and its parameters.
type Refused struct {
	Slug string
	With map[string]any
}

func (r *Refused) Error() string { return r.Slug + " " + fmt.Sprint(r.With) }

func refuse(slug string, pairs ...any) error {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return &Refused{Slug: "task." + slug, With: with}
}

// New makes a logbook with its settings and opens it.
func New(ctx context.Context, path string, s Settings, madeBy string, by By) (*logbook.Book, error) {
	if err := s.check(nil); err != nil {
		return nil, err // before there is a file
	}
	book, err := sqlite.Create(ctx, path, logbook.Made{By: madeBy, At: by.When}, sqlite.Options{})
	if err != nil {
		return nil, err
	}
	if err := SetSettings(ctx, book, s, by); err != nil {
		book.Close()
		return nil, err
	}
	return book, nil
}

// Open opens a logbook; viewOnly promises that nothing beside it is written.
func Open(ctx context.Context, path string, viewOnly bool) (*logbook.Book, error) {
	return sqlite.Open(ctx, path, sqlite.Options{ViewOnly: viewOnly})
}

// SettingsOf reads the settings of a logbook; the default protocol stands in
// where none is named.
func SettingsOf(tx *logbook.Tx) (Settings, error) {
	s := Settings{Protocol: sheet.DefaultProtocol}
	r, found, err := findCode(tx, kindSettings, "settings")
	if err != nil || !found {
		return s, err
	}
	f := r.Fields
	s = Settings{Title: f["title"], Programme: f["default_programme"], Team: f["default_team"], Protocol: f["protocol"], Zone: f["zone"], Invented: f["invented"] == "yes"}
	if s.Protocol == "" {
		s.Protocol = sheet.DefaultProtocol
	}
	return s, nil
}

// SetSettings keeps new settings. Their programme and team stand under names
// of their own, since those of a record are part of what identifies it.
func SetSettings(ctx context.Context, book *logbook.Book, s Settings, by By) error {
	return book.Change(ctx, func(tx *logbook.Tx) error {
		if err := s.check(tx); err != nil {
			return err
		}
		fields := map[string]string{"title": s.Title, "default_programme": s.Programme, "default_team": s.Team, "protocol": s.Protocol, "zone": s.Zone}
		if s.Invented {
			fields["invented"] = "yes"
		}
		return putCode(tx, kindSettings, "settings", fields, by.stamp())
	})
}

// findCode is the live record of a kind with a code.
func findCode(tx *logbook.Tx, kind, code string) (logbook.Record, bool, error) {
	return tx.FindIdentity(kind, logbook.Identity{Code: code})
}

// putCode makes or replaces the record of a kind with a code.
func putCode(tx *logbook.Tx, kind, code string, fields map[string]string, s logbook.Stamp) error {
	r, _, err := findCode(tx, kind, code)
	if err != nil {
		return err
	}
	all := map[string]string{"code": code}
	for k, v := range fields {
		if v != "" {
			all[k] = v
		}
	}
	_, err = tx.Put(logbook.Record{Kind: kind, Key: r.Key, Fields: all}, s)
	return err
}

// live goes through the live records of a kind.
func live(tx *logbook.Tx, kind string, f func(logbook.Record) error) error {
	for r, err := range tx.Records(kind) {
		if err != nil {
			return err
		}
		if r.State != logbook.Live {
			continue
		}
		if err := f(r); err != nil {
			return err
		}
	}
	return nil
}

// Habitat is one entry of the habitat list.
type Habitat struct {
	Name     string
	Synonyms []string
}

// Habitats lists the habitat list of a logbook by name.
func Habitats(tx *logbook.Tx) ([]Habitat, error) {
	var list []Habitat
	err := live(tx, kindHabitat, func(r logbook.Record) error {
		h := Habitat{Name: r.Fields["code"]}
		if t := r.Fields["synonyms"]; t != "" {
			h.Synonyms = strings.Split(t, "\n")
		}
		list = append(list, h)
		return nil
	})
	sort.Slice(list, func(i, j int) bool { return list[i].Name < list[j].Name })
	return list, err
}

// AddHabitat keeps a habitat with further spellings of it.
func AddHabitat(ctx context.Context, book *logbook.Book, name string, also []string, by By) error {
	if name = strings.TrimSpace(name); name == "" {
		return refuse("habitat-nameless")
	}
	return book.Change(ctx, func(tx *logbook.Tx) error {
		list, err := Habitats(tx)
		if err != nil {
			return err
		}
		var all []string
		for _, h := range list {
			if h.Name == name {
				all = h.Synonyms
				continue
			}
			for _, n := range append([]string{name}, also...) {
				if h.Name == n || contains(h.Synonyms, n) {
					return refuse("habitat-name-taken", "name", n, "habitat", h.Name)
				}
			}
		}
		for _, n := range also {
			if n = strings.TrimSpace(n); n != "" && n != name && !contains(all, n) {
				all = append(all, n)
			}
		}
		return putCode(tx, kindHabitat, name, map[string]string{"synonyms": strings.Join(all, "\n")}, by.stamp())
	})
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// Protocols are those the program brings and those the logbook keeps, by name
// and version, with the text of each.
func Protocols(tx *logbook.Tx) (map[string]assay.Protocol, map[string]string, error) {
	all, texts := sheet.Protocols()
	if tx == nil {
		return all, texts, nil
	}
	err := live(tx, kindProtocol, func(r logbook.Record) error {
		p, err := sheet.ReadProtocol(r.Fields["text"])
		if err != nil {
			return refuse("protocol-broken", "protocol", r.Fields["code"], "said", err.Error())
		}
		all[sheet.ProtocolName(p)], texts[sheet.ProtocolName(p)] = p, r.Fields["text"]
		return nil
	})
	return all, texts, err
}

// NewProtocol keeps a protocol from its TOML text. A protocol, once kept, is
// never changed: another version is another protocol.
func NewProtocol(ctx context.Context, book *logbook.Book, text string, by By) (name string, err error) {
	p, err := sheet.ReadProtocol(text)
	if err != nil {
		return "", refuse("protocol-broken", "protocol", "", "said", err.Error())
	}
	name = sheet.ProtocolName(p)
	return name, book.Change(ctx, func(tx *logbook.Tx) error {
		_, texts, err := Protocols(tx)
		if err != nil {
			return err
		}
		if old, there := texts[name]; there && old != text {
			return refuse("protocol-there", "protocol", name)
		}
		return putCode(tx, kindProtocol, name, map[string]string{"text": text}, by.stamp())
	})
}
