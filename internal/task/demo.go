package task

import (
	"context"
	"os"
	"path/filepath"

	"soakline/internal/demo"
	"soakline/internal/words"
)

// DemoSeed gives the season of the tutorial.
const DemoSeed = demo.DefaultSeed

// DemoMade is the invented season on the disk.
type DemoMade struct {
	Logbook string // its path
	Files   []string
	There   bool // it was there already and is as it was
}

// demoLogbook is the name of the logbook made of the true records.
const demoLogbook = "invented-season.logbook"

// MakeDemo makes the invented season in a folder: the teams' messy sheets, the
// truth beside them, and a logbook of the true records. A folder that holds one
// already is left as it is, so that what a person tried in it is not lost.
func MakeDemo(ctx context.Context, dir string, seed uint64, madeBy string, l words.Language, by By) (*DemoMade, error) {
	s := demo.Make(seed)
	made := &DemoMade{Logbook: filepath.Join(dir, demoLogbook)}
	for _, f := range s.Files() {
		made.Files = append(made.Files, f.Name)
	}
	made.Files = append(made.Files, demoLogbook)
	if _, err := os.Stat(made.Logbook); err == nil {
		made.There = true
		return made, nil
	}
	if err := s.Write(dir); err != nil {
		return nil, err
	}
	settings := Settings{Title: l.Say("task.demo-title", nil), Programme: demo.Programme, Invented: true}
	book, err := New(ctx, made.Logbook, settings, madeBy, by)
	if err != nil {
		return nil, err
	}
	defer book.Close()
	clean := s.Clean()
	files := []File{
		{demo.CleanFile, demo.Canonical(clean)},
		{demo.StakesFile, demo.CanonicalStakes(clean)},
		{demo.SightingsFile, demo.CanonicalSightings(clean)},
	}
	_, err = Import(ctx, book, files, ImportOptions{By: by, Yes: true})
	return made, err
}
