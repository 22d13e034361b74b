package task

import (
	"context"
	"encoding/csv"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"soakline/internal/publish"
)

// PublishOptions say how a season is published.
type PublishOptions struct {
	File            string            // metadata file; empty for none
	Metadata        publish.Metadata  // what flags give; they win over the file
	Today           time.Time         // the day of publication where none is given
	Previous        string            // folder of the release before; empty for none
	Before          *publish.Release  // the release before, where it is at hand
	Why             map[string]string // reason of the last change of each record, by key; see Reasons
	LeaveOutBlocked bool
	NoFit           bool   // leave out the fit whose numbers model.R prints beside its own
	Version         string // of this program
	Progress        func(done, of int)
}

// Publish writes a season as open archives into the folder dir.
func Publish(ctx context.Context, s *Season, dir string, o PublishOptions) (*publish.Result, error) {
	in, err := PublishInput(s, o)
	if err != nil {
		return nil, err
	}
	return publish.Write(ctx, dir, *in)
}

// PublishInput gathers what is published and what is said of it: what the
// logbook keeps, then the metadata file, then the flags; the last wins.
func PublishInput(s *Season, o PublishOptions) (*publish.Input, error) {
	m, err := s.metadata(o)
	if err != nil {
		return nil, err
	}
	return inputWith(s, m, o)
}

// inputWith is PublishInput where the metadata are known.
func inputWith(s *Season, m publish.Metadata, o PublishOptions) (*publish.Input, error) {
	in := inputOf(s, m, o)
	if o.Previous != "" {
		text, err := os.ReadFile(filepath.Join(o.Previous, "release.json"))
		if err != nil {
			return nil, err
		}
		if in.Previous, err = publish.ReadRelease(text); err != nil {
			return nil, err
		}
	}
	return in, nil
}

func inputOf(s *Season, m publish.Metadata, o PublishOptions) *publish.Input {
	return &publish.Input{
		Deployments: s.Deployments, Findings: s.Findings, Protocols: s.Protocols, Usual: s.usualName(), Metadata: m, Version: o.Version, Previous: o.Before,
		Plans: s.publishedPlans(), Invented: s.Settings.Invented, LeaveOutBlocked: o.LeaveOutBlocked, NoFit: o.NoFit, Progress: o.Progress, Why: func(key string) string { return o.Why[key] },
	}
}

// metadata are what is said of a publication of the season.
func (s *Season) metadata(o PublishOptions) (publish.Metadata, error) {
	return metadataOf(s.Publication, s.Settings, o)
}

func metadataOf(kept publish.Metadata, settings Settings, o PublishOptions) (publish.Metadata, error) {
	m := kept
	if m.Title == "" {
		m.Title = settings.Title
	}
	given, err := Given(o)
	if err != nil {
		return m, err
	}
	m = over(m, given)
	if m.Date == "" {
		m.Date = o.Today.Format(time.DateOnly)
	}
	m.Taxa = "" // the list itself has been read
	return m, nil
}

// Given are the metadata of the file and the flags; the flags win.
func Given(o PublishOptions) (publish.Metadata, error) {
	var m publish.Metadata
	if o.File != "" {
		text, err := os.ReadFile(o.File)
		if err != nil {
			return m, err
		}
		if m, err = publish.ReadMetadata(filepath.Base(o.File), text); err != nil {
			return m, err
		}
		if m.Taxa != "" && !filepath.IsAbs(m.Taxa) {
			m.Taxa = filepath.Join(filepath.Dir(o.File), m.Taxa)
		}
	}
	m = m.Over(o.Metadata)
	if m.Taxa != "" {
		var err error
		if m.TaxonList, err = readTaxa(m.Taxa); err != nil {
			return m, err
		}
	}
	return m, nil
}

// publishRefused gives what publish refuses as what a task refuses.
func publishRefused(err error) error {
	var refused *publish.Refused
	if errors.As(err, &refused) {
		return &Refused{Slug: refused.Slug, With: refused.With}
	}
	return err
}

// usualName is the name of the protocol of records that name none.
func (s *Season) usualName() string {
	if _, ok := s.Protocols[s.Settings.Protocol]; ok {
		return s.Settings.Protocol
	}
	return ""
}

func readTaxa(path string) (map[string]publish.Taxon, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return ReadTaxa(path, f)
}

// ReadTaxa reads a list of taxa from a file of that name: CSV with the heading
// taxon,scientific_name,scientific_name_id,rank,kingdom.
func ReadTaxa(path string, f io.Reader) (map[string]publish.Taxon, error) {
	c := csv.NewReader(io.LimitReader(f, 16<<20))
	bad := func(line int) error {
		return refusePublish("taxa-unreadable", "file", filepath.Base(path), "line", line)
	}
	head, err := c.Read()
	if err != nil || strings.TrimPrefix(strings.Join(head, ","), "\ufeff") != "taxon,scientific_name,scientific_name_id,rank,kingdom" {
		return nil, bad(1)
	}
	list := map[string]publish.Taxon{}
	for n := 2; ; n++ {
		cells, err := c.Read()
		if errors.Is(err, io.EOF) {
			return list, nil
		}
		if err != nil || cells[0] == "" || cells[1] == "" {
			return nil, bad(n)
		}
		list[cells[0]] = publish.Taxon{ScientificName: cells[1], ScientificNameID: cells[2], Rank: cells[3], Kingdom: cells[4]}
	}
}

func refusePublish(slug string, pairs ...any) error {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return &Refused{Slug: "publish." + slug, With: with}
}

// unpack takes what was published by this program, and the events of archives
// made elsewhere, out of files.
func unpack(files []File) ([]publish.Row, []File, map[string]*publish.Foreign, error) {
	in := make([]publish.Source, len(files))
	for i, f := range files {
		in[i] = publish.Source(f)
	}
	rows, rest, foreign, err := publish.ReadBack(in)
	if err != nil {
		return nil, nil, nil, publishRefused(err)
	}
	out := make([]File, len(rest))
	for i, f := range rest {
		out[i] = File(f)
	}
	return rows, out, foreign, nil
}
