package sqlite

import (
	"os"
	"path/filepath"
	"strings"

	"soakline/internal/logbook"
)

// conflictWords are what programs that keep folders in step put into the name
// of the copy they make when two computers changed one file (common practice,
// no source).
var conflictWords = []string{"conflict", "konflikt", "conflit", "conflito"}

// placeNotices tells what is doubtful about where a logbook lies: a network
// folder, whose locks may not hold, or a copy beside it that a syncing program
// made when two computers wrote.
func placeNotices(path string) []logbook.Notice {
	var notices []logbook.Notice
	folder := filepath.Dir(path)
	if onNetwork(folder) {
		notices = append(notices, logbook.Notice{Slug: logbook.SlugNetworkFolder, Params: map[string]any{"folder": folder}})
	}
	for _, other := range conflictCopies(path) {
		notices = append(notices, logbook.Notice{Slug: logbook.SlugCopyBeside,
			Params: map[string]any{"file": filepath.Base(path), "other": other}})
	}
	return notices
}

// conflictCopies lists files beside path whose names are path's with a word
// for conflict added.
func conflictCopies(path string) []string {
	name := strings.ToLower(filepath.Base(path))
	stem := strings.TrimSuffix(name, filepath.Ext(name))
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return nil // a folder that cannot be listed has no notice to give
	}
	var copies []string
	for _, e := range entries {
		other := strings.ToLower(e.Name())
		added, ok := strings.CutPrefix(other, stem)
		if !ok || other == name {
			continue
		}
		for _, word := range conflictWords {
			if strings.Contains(added, word) {
				copies = append(copies, e.Name())
				break
			}
		}
	}
	return copies
}
