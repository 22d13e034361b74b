package web

import (
	"context"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"soakline/internal/words"
)

// job is long work that goes on when its page is closed.
type job struct {
	id, kind, key string
	title         string // what is being done, in words
	to            string // page to look at when it is done
	cancel        context.CancelFunc
	finished      chan struct{}

	mu       sync.Mutex
	done, of int
	result   any
	err      error
	ended    bool
}

func (j *job) progress(done, of int) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.done, j.of = done, of
}

// state is how far a job is.
func (j *job) state() (done, of int, ended bool, result any, err error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.done, j.of, j.ended, j.result, j.err
}

// settle waits a moment for short work, so that it needs no page of its own.
func (j *job) settle(ctx context.Context, wait time.Duration) bool {
	t := time.NewTimer(wait)
	defer t.Stop()
	select {
	case <-j.finished:
		return true
	case <-t.C:
	case <-ctx.Done():
	}
	return false
}

// jobs holds what is at work and the last results, by kind and key.
type jobs struct {
	ctx  context.Context
	mu   sync.Mutex
	list []*job
	wg   sync.WaitGroup // of those that use the logbook
}

// keptJobs bounds how many ended jobs are remembered.
const keptJobs = 24

func newJobs(ctx context.Context) *jobs { return &jobs{ctx: ctx} }

// start begins work, or gives the job that does, or did, the same.
func (js *jobs) start(kind, key, title, to string, do func(context.Context, *job) (any, error)) *job {
	js.mu.Lock()
	defer js.mu.Unlock()
	for _, j := range js.list {
		if j.kind == kind && j.key == key {
			if _, _, ended, _, err := j.state(); !ended || err == nil {
				return j
			}
		}
	}
	ctx, cancel := context.WithCancel(js.ctx)
	j := &job{id: randomText(), kind: kind, key: key, title: title, to: to, cancel: cancel, finished: make(chan struct{})}
	js.list = append(js.list, j)
	if len(js.list) > keptJobs {
		for i, old := range js.list {
			if _, _, ended, _, _ := old.state(); ended {
				js.list = append(js.list[:i:i], js.list[i+1:]...)
				break
			}
		}
	}
	usesBook := kind == "look" || kind == "keep" || kind == "preview" || kind == "publish"
	if usesBook {
		js.wg.Add(1)
	}
	go func() {
		if usesBook {
			defer js.wg.Done()
		}
		defer cancel()
		result, err := do(ctx, j)
		j.mu.Lock()
		j.result, j.err, j.ended = result, err, true
		j.mu.Unlock()
		close(j.finished)
	}()
	return j
}

// find is the newest job of a kind, with a key or, key empty, with any.
func (js *jobs) find(kind, key string) *job {
	js.mu.Lock()
	defer js.mu.Unlock()
	for i := len(js.list) - 1; i >= 0; i-- {
		if j := js.list[i]; j.kind == kind && (key == "" || j.key == key) {
			return j
		}
	}
	return nil
}

// newest is the newest job of a kind whose key begins so and that is at work or came
// to its end; nil if there is none.
func (js *jobs) newest(kind, begins string) *job {
	js.mu.Lock()
	defer js.mu.Unlock()
	for i := len(js.list) - 1; i >= 0; i-- {
		j := js.list[i]
		if j.kind != kind || !strings.HasPrefix(j.key, begins) {
			continue
		}
		if _, _, ended, _, err := j.state(); !ended || err == nil {
			return j
		}
	}
	return nil
}

func (js *jobs) byID(id string) *job {
	js.mu.Lock()
	defer js.mu.Unlock()
	for _, j := range js.list {
		if j.id == id {
			return j
		}
	}
	return nil
}

// forget takes an ended job off the list.
func (js *jobs) forget(j *job) {
	js.mu.Lock()
	defer js.mu.Unlock()
	js.list = slices.DeleteFunc(js.list, func(x *job) bool { return x == j })
}

func (js *jobs) running() bool {
	js.mu.Lock()
	defer js.mu.Unlock()
	for _, j := range js.list {
		if _, _, ended, _, _ := j.state(); !ended {
			return true
		}
	}
	return false
}

// cancelAll stops everything and forgets the results: another logbook comes.
// What uses the logbook has ended when it returns; a calculation on records in
// memory ends by itself, soon after.
func (js *jobs) cancelAll() {
	js.mu.Lock()
	for _, j := range js.list {
		j.cancel()
	}
	js.list = nil
	js.mu.Unlock()
	js.wg.Wait()
}

func (js *jobs) wait() { js.wg.Wait() }

// workView is the page of a job at work.
type workView struct {
	ID, Title, Text, To string
	Done, Of            int
}

// working shows a job's progress; the page looks again by itself.
func (d *Desk) working(w http.ResponseWriter, r *http.Request, b *opened, j *job) error {
	l := d.language()
	done, of, _, _, _ := j.state()
	return d.show(w, r, b, http.StatusOK, "work", j.title, workOf(l, j, done, of))
}

func workOf(l words.Language, j *job, done, of int) workView {
	v := workView{ID: j.id, Title: j.title, To: j.to, Done: done, Of: of, Text: sayPairs(l, "web.work.far", "done", done, "of", of)}
	if of == 0 {
		v.Text = l.Say("web.work.begun", nil)
	}
	return v
}

// jobState tells a script how far a job is.
func (d *Desk) jobState(w http.ResponseWriter, r *http.Request, b *opened) error {
	j := d.jobs.byID(r.PathValue("id"))
	if j == nil {
		return errNotHere
	}
	done, of, ended, _, _ := j.state()
	w.Header().Set("Content-Type", "application/json")
	return json.NewEncoder(w).Encode(map[string]any{"done": done, "of": of, "ended": ended, "to": j.to,
		"text": sayPairs(d.language(), "web.work.far", "done", done, "of", of)})
}

func (d *Desk) cancelJob(w http.ResponseWriter, r *http.Request, b *opened) error {
	if j := d.jobs.byID(r.PathValue("id")); j != nil {
		j.cancel()
		j.settle(r.Context(), 5*time.Second)
	}
	d.setFlash(flash{Text: d.language().Say("web.done.stopped", nil)})
	back(w, r, "/answer")
	return nil
}
