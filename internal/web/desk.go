package web

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"soakline/internal/words"
)

// Options of a desk.
type Options struct {
	Lang    words.Language
	Who     string // name kept with every change
	Version string
	// StateDir holds the list of logbooks opened lately; empty remembers none.
	StateDir string
	// Folder is where new logbooks and the demo are proposed.
	Folder string
	Now    func() time.Time
	// Replicates is how many seasons are simulated for the exact chance; 0 is the usual 999.
	Replicates int
	// Patience is how long a page waits for work before it shows the work
	// instead; 0 is the usual moment.
	Patience time.Duration
}

// Desk is one desk: at most one logbook open, one person before it.
type Desk struct {
	o     Options
	guard *guard
	ctx   context.Context // ends when the desk closes; jobs stop with it
	stop  context.CancelFunc
	jobs  *jobs
	holds *holds
	last  atomic.Int64 // unix milliseconds of the last request
	busy  atomic.Int64 // requests being answered
	done  chan struct{}
	once  sync.Once

	// bookMu is held for reading while a request uses the logbook, for writing
	// while another is opened.
	bookMu sync.RWMutex
	book   *opened

	mu    sync.Mutex
	lang  words.Language
	who   string
	flash *flash
	guest *guest
}

// flash is what a page says once about what was just done.
type flash struct {
	Text string
	Undo string // key of the record whose last change can be taken back; empty for none
	Back string // page to return to after that
}

// New makes a desk without a logbook.
func New(o Options) (*Desk, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Replicates <= 0 {
		o.Replicates = exactReplicates
	}
	if o.Patience <= 0 {
		o.Patience = quickWait
	}
	if o.Folder == "" {
		o.Folder = usualFolder()
	}
	d := &Desk{o: o, guard: newGuard(), lang: o.Lang, who: o.Who, done: make(chan struct{}), holds: newHolds()}
	d.ctx, d.stop = context.WithCancel(context.Background())
	d.jobs = newJobs(d.ctx)
	d.touch()
	if _, err := pagesIn(o.Lang); err != nil {
		return nil, err
	}
	return d, nil
}

// usualFolder is where people look for their files.
func usualFolder() string {
	home, err := os.UserHomeDir()
	if err != nil {
		return "."
	}
	if docs := filepath.Join(home, "Documents"); isDir(docs) {
		return docs
	}
	return home
}

func isDir(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}

func (d *Desk) touch() { d.last.Store(d.o.Now().UnixMilli()) }

// IdleFor tells how long nobody has asked for anything and nothing was at work.
func (d *Desk) IdleFor() time.Duration {
	if d.busy.Load() > 0 || d.jobs.running() {
		return 0
	}
	return d.o.Now().Sub(time.UnixMilli(d.last.Load()))
}

// Done is closed when the person has closed the desk.
func (d *Desk) Done() <-chan struct{} { return d.done }

// Finish asks for the end, as the button does.
func (d *Desk) Finish() { d.once.Do(func() { close(d.done) }) }

// Close stops what is at work and closes the logbook.
func (d *Desk) Close() error {
	d.Finish()
	d.stop()
	d.jobs.wait()
	d.setGuest(nil)
	d.bookMu.Lock()
	defer d.bookMu.Unlock()
	if d.book == nil {
		return nil
	}
	err := d.book.close()
	d.book = nil
	return err
}

func (d *Desk) language() words.Language {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.lang
}

func (d *Desk) setFlash(f flash) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.flash = &f
}

func (d *Desk) takeFlash() *flash {
	d.mu.Lock()
	defer d.mu.Unlock()
	f := d.flash
	d.flash = nil
	return f
}

// name is who does things here.
func (d *Desk) name() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.who == "" {
		return "?"
	}
	return d.who
}

// randomText is 192 bits for addresses and cookies.
func randomText() string {
	b := make([]byte, 24)
	if _, err := rand.Read(b); err != nil {
		panic("web: no randomness: " + err.Error())
	}
	return base64.RawURLEncoding.EncodeToString(b)
}

// Handler answers every request.
func (d *Desk) Handler() http.Handler { return d.guard.wrap(d, d.routes()) }

// Tell shows a text once on the next page.
func (d *Desk) Tell(text string) { d.setFlash(flash{Text: text}) }
