package task

import (
	"context"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"soakline/internal/assay"
	"soakline/internal/intake"
	"soakline/internal/logbook"
	"soakline/internal/publish"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// File is one datasheet file as it lies on the disk or was dropped on a page.
type File struct {
	Name string
	Data []byte
}

// FaultyFile is a file with cells that cannot be read: nothing was taken.
type FaultyFile struct{ Faults []assay.FileError }

func (f *FaultyFile) Error() string { return "cells that cannot be read" }

// Questions are what a person has to say before the files can be taken, beside
// what was settled without one.
type Questions struct {
	Open    []intake.Question
	Reasons []intake.Reason
	Taken   []intake.Taken
}

func (q *Questions) Error() string { return "questions about the sheet" }

// readAll reads files whole, those too large refused before.
func readAll(paths []string) ([]File, error) {
	most := int64(intake.DefaultLimits().FileBytes)
	var files []File
	paths, err := withPackages(paths)
	if err != nil {
		return nil, err
	}
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil {
			return nil, err
		}
		if info.Size() > most {
			return nil, refuse("too-large", "file", p, "bytes", int(info.Size()), "most", int(most))
		}
		b, err := os.ReadFile(p)
		if err != nil {
			return nil, err
		}
		files = append(files, File{p, b})
	}
	return files, nil
}

// ReadFiles reads datasheet files from the disk.
func ReadFiles(paths []string) ([]File, error) { return readAll(paths) }

// packageFolders are where a package lies in a folder, itself or what publish wrote.
var packageFolders = []string{"", "datapackage"}

// withPackages puts the tables of a package in the place of its folder or its
// description.
func withPackages(paths []string) ([]string, error) {
	var out []string
	add := func(p string) {
		if !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil {
			return nil, err
		}
		found := filepath.Base(p) == "datapackage.json"
		for _, sub := range packageFolders {
			if d := filepath.Join(p, sub, "datapackage.json"); info.IsDir() && !found {
				if _, err := os.Stat(d); err == nil {
					p, found = d, true
				}
			}
		}
		if info.IsDir() && !found {
			return nil, refuse("is-directory", "file", p)
		}
		if !found {
			add(p)
			continue
		}
		b, err := os.ReadFile(p)
		if err != nil {
			return nil, err
		}
		for _, name := range publish.PackageFiles(b) {
			add(filepath.Join(filepath.Dir(p), name))
		}
	}
	return out, nil
}

// given is what files hold.
type given struct {
	published []publish.Row               // by this program
	tables    []intake.Table              // anybody's
	foreign   map[string]*publish.Foreign // what an archive made elsewhere says of its rows, by table
}

// tables splits files into what was published by this program and tables of
// anybody's; faults stop everything.
func tables(files []File) (*given, error) {
	rows, files, foreign, err := unpack(files)
	if err != nil {
		return nil, err
	}
	var all []intake.Table
	var faults []assay.FileError
	for _, f := range files {
		t, bad := intake.Tables(f.Name, f.Data, intake.Options{})
		all, faults = append(all, t...), append(faults, bad...)
	}
	if len(faults) > 0 {
		return nil, &FaultyFile{faults}
	}
	return &given{rows, all, foreign}, nil
}

// fromFiles is the season that datasheet files hold.
func fromFiles(ctx context.Context, files []File, o LoadOptions) (*Season, error) {
	if err := checkAnswers(o.Answers); err != nil {
		return nil, err
	}
	g, err := tables(files)
	if err != nil {
		return nil, err
	}
	s := &Season{Settings: Settings{Protocol: sheet.DefaultProtocol}, lightOnce: new(sync.Once)}
	s.Protocols, _ = sheet.Protocols()
	reading := intake.Read(g.tables, intake.Context{Answers: o.Answers, Yes: o.Yes, NominalH: nominal(sheet.Standard()), Baits: sheet.Standard().Baits})
	if err := usable(reading); err != nil {
		return nil, err
	}
	s.Deployments = make([]assay.Deployment, 0, len(g.published)+len(reading.Records))
	for _, r := range g.published {
		d, faults := sheet.Deployment(r.Values)
		if len(faults) > 0 {
			return nil, &FaultyValues{faults}
		}
		d.Where = r.Where()
		s.Deployments = append(s.Deployments, d)
	}
	for _, r := range reading.Records {
		d, faults := r.Deployment()
		if len(faults) > 0 {
			return nil, &FaultyValues{faults} // intake writes only what reads
		}
		s.Deployments = append(s.Deployments, d)
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
	for _, f := range files {
		s.Sources = append(s.Sources, filepath.Base(f.Name))
	}
	s.Notices, s.Taken = reading.Notices, takenMessages(reading.Taken)
	s.judge(o.Now, nil)
	return s, nil
}

// ownAnswers are the kinds of questions that matching lines to rows asks.
var ownAnswers = []string{"twice", "same-row"}

// checkAnswers refuses an answer whose kind nothing asks: a slip in it would
// otherwise pass unseen. An answer that a sheet does not need is no slip, since
// the same answers serve for the next sheet.
func checkAnswers(answers map[string]string) error {
	known := append(slices.Clone(intake.AnswerKinds), ownAnswers...)
	for _, key := range slices.Sorted(maps.Keys(answers)) {
		if !slices.Contains(known, intake.AnswerKind(key)) {
			return refuse("unknown-answer", "question", key, "questions", known)
		}
	}
	return nil
}

// usable gives the faults or questions of a reading as an error.
func usable(r *intake.Reading) error {
	switch {
	case len(r.Faults) > 0:
		return &FaultyFile{r.Faults}
	case len(r.Questions) > 0:
		return &Questions{r.Questions, r.Reasons, r.Taken}
	}
	return nil
}

func nominal(p assay.Protocol) []float64 {
	var soaks []float64
	for _, c := range p.Checks {
		soaks = append(soaks, c.SoakH)
	}
	return soaks
}

// takenMessages tells what was taken without asking.
func takenMessages(list []intake.Taken) []words.Message {
	var out []words.Message
	for _, t := range list {
		out = append(out, words.Message{Slug: "task.taken", With: words.P{
			"question": words.Ref{Slug: t.Slug, With: t.With}, "key": t.Key, "value": t.Value,
		}})
	}
	return out
}

// contextOf is what a logbook knows that helps to read a file.
func contextOf(tx *logbook.Tx, o ImportOptions) (intake.Context, Settings, error) {
	c := intake.Context{Answers: o.Answers, Yes: o.Yes}
	settings, err := SettingsOf(tx)
	if err != nil {
		return c, settings, err
	}
	if c.Sites, err = Sites(tx); err != nil {
		return c, settings, err
	}
	habitats, err := Habitats(tx)
	if err != nil {
		return c, settings, err
	}
	for _, h := range habitats {
		c.Habitats = append(c.Habitats, intake.Entry{Name: h.Name, Synonyms: h.Synonyms})
	}
	c.Zone = settings.Zone
	protocols, _, err := Protocols(tx)
	if err != nil {
		return c, settings, err
	}
	p, ok := protocols[settings.Protocol]
	if !ok {
		p = sheet.Standard()
	}
	c.NominalH, c.Baits = nominal(p), p.Baits
	err = live(tx, kindMap, func(r logbook.Record) error {
		m, err := intake.ParseMap([]byte(r.Fields["text"]))
		if err != nil {
			return nil // a map of a newer program: the sheet is read afresh
		}
		c.Maps = append(c.Maps, m)
		return nil
	})
	return c, settings, err
}
