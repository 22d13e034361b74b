package desktop

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"soakline/internal/web"
	"soakline/internal/words"
)

// Options say how the desk opens.
type Options struct {
	File      string // a logbook; empty for the start page
	NoBrowser bool   // print the address only
	Lang      words.Language
	Who       string // name kept with every change
	Version   string
	Out       io.Writer
	// StateDir holds the rendezvous and the list of logbooks; empty is the
	// user's cache folder.
	StateDir string
	// Folder is where new logbooks are proposed; empty is the usual one.
	Folder string
	// Idle is how long nobody asks for anything until the desk closes; 0 is the usual.
	Idle time.Duration
	// Browse starts a browser; nil is the system's.
	Browse func(address string) error
	Now    func() time.Time
}

// usualIdle leaves time for a day in the water with a page left open: a page
// that is looked at asks now and then by itself.
const usualIdle = 2 * time.Hour

// Refused is a reason in words why the desk cannot open.
type Refused struct{ Text string }

func (r *Refused) Error() string { return r.Text }

// Open opens the desk and stays until it is closed: by its button, by ctx, or
// because nobody has used it for a while. Where a desk runs already, Open leads
// there and returns.
func Open(ctx context.Context, o Options) error {
	o.complete()
	if o.File != "" {
		abs, err := filepath.Abs(o.File)
		if err != nil {
			return err
		}
		o.File = abs
	}
	free := turn(ctx, o.StateDir) // two starts at one moment: one after the other
	defer free()
	if address, ok := join(ctx, o.StateDir, o.File); ok {
		o.lead(address, "desk.joined")
		return nil
	}
	desk, err := web.New(web.Options{Lang: o.Lang, Who: o.Who, Version: o.Version, StateDir: o.StateDir, Folder: o.Folder, Now: o.Now})
	if err != nil {
		return err
	}
	defer desk.Close()
	if o.File != "" {
		if err := desk.Open(ctx, o.File); err != nil {
			return err
		}
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return &Refused{o.Lang.Say("desk.no-port", words.P{"said": err.Error()})}
	}
	return o.serve(ctx, desk, l, free)
}

func (o *Options) complete() {
	if o.Lang == "" {
		o.Lang = words.English
	}
	if o.Out == nil {
		o.Out = io.Discard
	}
	if o.Idle == 0 {
		o.Idle = usualIdle
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Browse == nil {
		o.Browse = browse
	}
	if o.StateDir == "" {
		if cache, err := os.UserCacheDir(); err == nil {
			o.StateDir = filepath.Join(cache, "soakline")
		}
	}
}

// serve answers on l until the desk is to end.
func (o *Options) serve(ctx context.Context, desk *web.Desk, l net.Listener, met func()) error {
	address := "http://" + l.Addr().String()
	r, err := meet(o.StateDir, address)
	if err == nil {
		defer r.leave()
	} // else: no folder to meet in; the desk works, a second start makes its own
	srv := &http.Server{
		Handler:           withJoin(r, desk),
		ReadHeaderTimeout: 20 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
	}
	failed := make(chan error, 1)
	go func() { failed <- srv.Serve(l) }()
	met() // from here on a second start finds this one
	o.lead(address+desk.Ticket("/"), "desk.open")
	o.print("desk.how-to-end", nil)
	why := o.wait(ctx, desk, failed)
	// The page that says "closed" is still on its way: answered requests end first.
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	if err := srv.Shutdown(end); err != nil {
		_ = srv.Close()
	}
	if err := desk.Close(); err != nil {
		return err
	}
	if why != nil && !errors.Is(why, http.ErrServerClosed) {
		return why
	}
	o.print("desk.closed", nil)
	return nil
}

// wait ends with the button, with ctx, with a failure, or after idle time.
func (o *Options) wait(ctx context.Context, desk *web.Desk, failed <-chan error) error {
	t := time.NewTicker(min(time.Minute, max(o.Idle/10, 10*time.Millisecond)))
	defer t.Stop()
	for {
		select {
		case <-desk.Done():
			return nil
		case <-ctx.Done():
			return nil
		case err := <-failed:
			return err
		case <-t.C:
			if desk.IdleFor() >= o.Idle {
				o.print("desk.idle", words.P{"minutes": int(o.Idle / time.Minute)})
				return nil
			}
		}
	}
}

// lead brings the person to the address: by the browser, or in words.
func (o *Options) lead(address, slug string) {
	if o.NoBrowser {
		o.print("desk.type", words.P{"address": address})
		return
	}
	if err := o.Browse(address); err != nil {
		o.print("desk.no-browser", words.P{"said": err.Error(), "address": address})
		return
	}
	o.print(slug, words.P{"address": address})
}

func (o *Options) print(slug string, with words.P) {
	fmt.Fprintln(o.Out, o.Lang.Say(slug, with))
}
