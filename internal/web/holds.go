package web

import (
	"slices"
	"sync"

	"soakline/internal/intake"
	"soakline/internal/task"
)

// hold is one set of files between being dropped and being kept. It lives in
// memory: nothing of it is in the logbook until it is confirmed.
type hold struct {
	id string

	mu      sync.Mutex
	files   []task.File
	tables  []intake.Table // nil when the files cannot be read as tables
	answers map[string]string
	maps    []intake.Map // corrected by a person; nil while the proposal stands
	turn    int          // grows with every answer, so that the next look is another job
}

// holds keeps the last few sets.
type holds struct {
	mu   sync.Mutex
	list []*hold
}

// keptHolds bounds the memory that files take: the oldest goes first.
const keptHolds = 3

func newHolds() *holds { return &holds{} }

func (hs *holds) add(files []task.File) *hold {
	h := &hold{id: randomText(), files: files, answers: map[string]string{}}
	for _, f := range files {
		t, faults := intake.Tables(f.Name, f.Data, intake.Options{})
		if len(faults) > 0 {
			h.tables = nil
			break
		}
		h.tables = append(h.tables, t...)
	}
	hs.mu.Lock()
	defer hs.mu.Unlock()
	hs.list = append(hs.list, h)
	if len(hs.list) > keptHolds {
		hs.list = hs.list[1:]
	}
	return h
}

func (hs *holds) find(id string) *hold {
	hs.mu.Lock()
	defer hs.mu.Unlock()
	for _, h := range hs.list {
		if h.id == id {
			return h
		}
	}
	return nil
}

func (hs *holds) drop(id string) {
	hs.mu.Lock()
	defer hs.mu.Unlock()
	hs.list = slices.DeleteFunc(hs.list, func(h *hold) bool { return h.id == id })
}

func (hs *holds) clear() {
	hs.mu.Lock()
	defer hs.mu.Unlock()
	hs.list = nil
}
