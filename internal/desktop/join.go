package desktop

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"

	"soakline/internal/web"
)

// rendezvous is how a second start finds the first.
type rendezvous struct {
	path    string
	Address string `json:"address"`
	Secret  string `json:"secret"`
}

const (
	rendezvousFile = "desk.json"
	joinPath       = "/join"
	joinHeader     = "X-Soakline-Join"
)

// turnLife is how old a mark of a start may be before its program counts as dead.
const turnLife = 10 * time.Second

// turn waits until no other start is between looking for a desk and being one.
// The mark is a file; one left by a program that died is taken away. free gives
// the turn back and may be called twice.
func turn(ctx context.Context, dir string) (free func()) {
	path := filepath.Join(dir, "desk.starting")
	if os.MkdirAll(dir, 0o700) != nil {
		return func() {}
	}
	for ctx.Err() == nil {
		f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err == nil {
			f.Close()
			return sync.OnceFunc(func() { _ = os.Remove(path) })
		}
		if !os.IsExist(err) {
			return func() {} // the folder cannot be used: no turns are taken in it
		}
		info, err := os.Stat(path)
		switch {
		case err == nil && time.Since(info.ModTime()) > turnLife:
			_ = os.Remove(path)
		case err != nil && !os.IsNotExist(err):
			return func() {}
		}
		select {
		case <-ctx.Done():
		case <-time.After(30 * time.Millisecond):
		}
	}
	return func() {}
}

// meet leaves the address for later starts, in a file that only this person
// reads, whole or not at all.
func meet(dir, address string) (*rendezvous, error) {
	secret := make([]byte, 24)
	if _, err := rand.Read(secret); err != nil {
		return nil, err
	}
	r := &rendezvous{path: filepath.Join(dir, rendezvousFile), Address: address, Secret: base64.RawURLEncoding.EncodeToString(secret)}
	b, err := json.Marshal(r)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	f, err := os.CreateTemp(dir, ".desk-*") // made readable by its owner alone
	if err != nil {
		return nil, err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(b)
	if e := f.Close(); err == nil {
		err = e
	}
	if err != nil {
		return nil, err
	}
	return r, os.Rename(f.Name(), r.path)
}

// leave takes the file away, unless another desk has put its own there since.
func (r *rendezvous) leave() {
	if now, err := readRendezvous(filepath.Dir(r.path)); err == nil && now.Secret == r.Secret {
		_ = os.Remove(r.path)
	}
}

func readRendezvous(dir string) (*rendezvous, error) {
	b, err := os.ReadFile(filepath.Join(dir, rendezvousFile))
	if err != nil {
		return nil, err
	}
	r := &rendezvous{path: filepath.Join(dir, rendezvousFile)}
	if err := json.Unmarshal(b, r); err != nil {
		return nil, err
	}
	u, err := url.Parse(r.Address)
	if err != nil {
		return nil, err
	}
	if ip := net.ParseIP(u.Hostname()); ip == nil || !ip.IsLoopback() {
		return nil, os.ErrInvalid // not ours: we listen on the loopback address only
	}
	return r, nil
}

// asked is what a second start asks of the first.
type asked struct {
	File string `json:"file"`
}

// answered is the first address for it.
type answered struct {
	Path string `json:"path"`
	Said string `json:"said,omitempty"` // why the file did not open
}

// join asks the desk that runs, if one does, for a first address; file is the
// logbook that it is to open. It is false when there is none: then the file
// that named one is taken away.
func join(ctx context.Context, dir, file string) (address string, ok bool) {
	r, err := readRendezvous(dir)
	if err != nil {
		return "", false
	}
	body, err := json.Marshal(asked{file})
	if err != nil {
		return "", false
	}
	ctx, cancel := context.WithTimeout(ctx, 20*time.Second) // opening a large logbook takes its time
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, r.Address+joinPath, bytes.NewReader(body))
	if err != nil {
		return "", false
	}
	req.Header.Set(joinHeader, r.Secret)
	// No proxy, no redirect: this request goes to this machine or nowhere.
	client := &http.Client{Transport: &http.Transport{DialContext: (&net.Dialer{Timeout: 2 * time.Second}).DialContext, DisableKeepAlives: true},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := client.Do(req)
	if err != nil {
		if ctx.Err() == nil {
			_ = os.Remove(r.path) // nobody there: the program died
		}
		return "", false
	}
	defer resp.Body.Close()
	var a answered
	if resp.StatusCode != http.StatusOK || json.NewDecoder(io.LimitReader(resp.Body, 1<<16)).Decode(&a) != nil {
		return "", false // the port belongs to another program now
	}
	return r.Address + a.Path, true
}

// withJoin answers a second start beside the pages.
func withJoin(r *rendezvous, desk *web.Desk) http.Handler {
	pages := desk.Handler()
	return http.HandlerFunc(func(w http.ResponseWriter, req *http.Request) {
		if r == nil || req.URL.Path != joinPath || req.Method != http.MethodPost {
			pages.ServeHTTP(w, req)
			return
		}
		if subtle.ConstantTimeCompare([]byte(req.Header.Get(joinHeader)), []byte(r.Secret)) != 1 {
			http.Error(w, "", http.StatusForbidden)
			return
		}
		var q asked
		if json.NewDecoder(io.LimitReader(req.Body, 1<<16)).Decode(&q) != nil {
			http.Error(w, "", http.StatusBadRequest)
			return
		}
		a := answered{}
		to := "/"
		if q.File != "" {
			if err := desk.Open(req.Context(), q.File); err != nil {
				a.Said = desk.Explain(err)
				desk.Tell(a.Said)
			}
		}
		a.Path = desk.Ticket(to)
		w.Header().Set("Content-Type", "application/json")
		_ = json.NewEncoder(w).Encode(a)
	})
}
