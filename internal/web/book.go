package web

import (
	"context"
	"fmt"
	"os"
	"sync"
	"time"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/sheet"
	"soakline/internal/task"
)

// opened is the logbook on the desk, with its season as read last.
type opened struct {
	path string
	book *logbook.Book

	mu     sync.Mutex
	season *task.Season
	seen   string // state of the file that season was read from
}

func (b *opened) close() error { return b.book.Close() }

// openBook opens a logbook for the desk.
func openBook(ctx context.Context, path string) (*opened, error) {
	book, err := task.Open(ctx, path, false)
	if err != nil {
		return nil, err
	}
	return &opened{path: path, book: book}, nil
}

// Of gives the season, read again when the file has changed: the command may
// work on the same logbook while the desk is open.
func (b *opened) of(ctx context.Context, now time.Time) (*task.Season, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	seen := ""
	if info, err := os.Stat(b.path); err == nil {
		seen = fmt.Sprint(info.ModTime().UnixNano(), info.Size(), now.Format(time.DateOnly))
	}
	if b.season != nil && seen != "" && seen == b.seen {
		return b.season, nil
	}
	s, err := task.Of(ctx, b.book, now)
	if err != nil {
		return nil, err
	}
	b.season, b.seen = s, seen
	return s, nil
}

// forget makes the next look read the season again.
func (b *opened) forget() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.season = nil
}

// protocolOf is the protocol that a deployment follows.
func protocolOf(s *task.Season, d *assay.Deployment) assay.Protocol {
	if p, ok := s.Protocols[d.Protocol]; ok {
		return p
	}
	if p, ok := s.Protocols[s.Settings.Protocol]; ok {
		return p
	}
	return sheet.Standard()
}

// openFindings are those that wait for a person: impossible records first, then
// questions nobody has answered, each in the order of the records.
func openFindings(s *task.Season) []assay.Finding {
	var blocks, asks []assay.Finding
	for _, f := range s.Findings {
		switch {
		case f.Severity == assay.Block:
			blocks = append(blocks, f)
		case f.Severity == assay.Ask && !f.Answered:
			asks = append(asks, f)
		}
	}
	return append(blocks, asks...)
}
