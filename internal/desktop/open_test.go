package desktop

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"soakline/internal/task"
	"soakline/internal/words"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// output is what a desk prints, read while it prints.
type output struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (o *output) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.b.Write(p)
}

func (o *output) String() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.b.String()
}

// started is a desk that runs in the background.
type started struct {
	out  *output
	came chan string // addresses that a browser was sent to
	end  chan error
	stop context.CancelFunc
}

func start(t *testing.T, o Options) *started {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	s := &started{out: &output{}, came: make(chan string, 4), end: make(chan error, 1), stop: stop}
	o.Out, o.Lang = s.out, words.English
	if o.Browse == nil {
		o.Browse = func(address string) error { s.came <- address; return nil }
	}
	go func() { s.end <- Open(ctx, o) }()
	t.Cleanup(stop)
	return s
}

func (s *started) address(t *testing.T) string {
	t.Helper()
	select {
	case a := <-s.came:
		return a
	case err := <-s.end:
		t.Fatalf("ended: %v, %s", err, s.out)
	case <-time.After(20 * time.Second):
		t.Fatal("no browser was started: " + s.out.String())
	}
	return ""
}

func (s *started) ends(t *testing.T) error {
	t.Helper()
	select {
	case err := <-s.end:
		return err
	case <-time.After(20 * time.Second):
		t.Fatal("it does not end")
	}
	return nil
}

// browser is a client with a cookie jar; get gives the page it arrives at.
func browser(t *testing.T) func(method, address string) (string, string) {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	c := &http.Client{Jar: jar, Transport: &http.Transport{DisableKeepAlives: true}}
	return func(method, address string) (string, string) {
		t.Helper()
		req, err := http.NewRequest(method, address, nil)
		if err != nil {
			t.Fatal(err)
		}
		resp, err := c.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		b, err := io.ReadAll(resp.Body)
		if err != nil {
			t.Fatal(err)
		}
		return resp.Request.URL.Path, string(b)
	}
}

func origin(address string) string {
	at := strings.Index(address, "/enter")
	return address[:at]
}

func TestOpenBrowseAndClose(t *testing.T) {
	dir := t.TempDir()
	s := start(t, Options{StateDir: dir, Folder: dir, Who: "Ana"})
	a := s.address(t)
	if !strings.HasPrefix(a, "http://127.0.0.1:") {
		t.Errorf("address %s", a)
	}
	go1 := browser(t)
	if path, body := go1(http.MethodGet, a); path != "/start" && path != "/" || !strings.Contains(body, "What happened to the baits?") {
		t.Errorf("%s %.200s", path, body)
	}
	info, err := os.Stat(filepath.Join(dir, rendezvousFile))
	if err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Errorf("rendezvous %v, %v; others must not read it", info, err)
	}
	if _, body := go1(http.MethodPost, origin(a)+"/close"); !strings.Contains(body, "Soakline is closed") {
		t.Errorf("%.200s", body)
	}
	if err := s.ends(t); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(filepath.Join(dir, rendezvousFile)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the rendezvous is left behind: %v", err)
	}
	if !strings.Contains(s.out.String(), "Soakline is closed.") {
		t.Error(s.out.String())
	}
}

// A second start leads to the first, with a first address of its own, and
// opens there the file it was given.
func TestSecondStartJoinsTheFirst(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "mine.logbook")
	book, err := task.New(t.Context(), file, task.Settings{Title: "Mine"}, "soakline test", task.By{Who: "Ana", When: time.Now()})
	if err != nil {
		t.Fatal(err)
	}
	book.Close()
	first := start(t, Options{StateDir: dir, Folder: dir})
	a := first.address(t)
	second := start(t, Options{StateDir: dir, Folder: dir, File: file})
	b := second.address(t)
	if err := second.ends(t); err != nil || origin(a) != origin(b) || a == b {
		t.Fatalf("second start: %v, %s beside %s", err, b, a)
	}
	if path, body := browser(t)(http.MethodGet, b); path != "/rows" || !strings.Contains(body, "Mine") {
		t.Errorf("%s %.300s", path, body)
	}
	// A file that is none is said, and the desk goes on.
	third := start(t, Options{StateDir: dir, Folder: dir, File: filepath.Join(dir, "none.logbook")})
	if _, body := browser(t)(http.MethodGet, third.address(t)); !strings.Contains(body, "none.logbook") {
		t.Errorf("%.300s", body)
	}
	// Who does not know the secret is not led in.
	req, _ := http.NewRequest(http.MethodPost, origin(a)+joinPath, strings.NewReader("{}"))
	req.Header.Set(joinHeader, "guess")
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	http.DefaultClient.CloseIdleConnections()
	if resp.StatusCode != http.StatusForbidden {
		t.Errorf("a guess gave %s", resp.Status)
	}
	first.stop()
	if err := first.ends(t); err != nil {
		t.Error(err)
	}
}

// A file left by a program that died, or that names somebody else, leads
// nowhere: a new desk opens.
func TestStaleRendezvous(t *testing.T) {
	for name, text := range map[string]string{
		"dead":     `{"address":"http://127.0.0.1:9","secret":"x"}`,
		"foreign":  `{"address":"http://192.0.2.1:80","secret":"x"}`,
		"broken":   `{`,
		"nonsense": `{"address":"::","secret":"x"}`,
	} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, rendezvousFile), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		s := start(t, Options{StateDir: dir, Folder: dir})
		if _, body := browser(t)(http.MethodGet, s.address(t)); !strings.Contains(body, "What happened") {
			t.Errorf("%s: %.200s", name, body)
		}
		s.stop()
		if err := s.ends(t); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Two starts at one moment end as one desk.
func TestTwoStartsAtOnce(t *testing.T) {
	dir := t.TempDir()
	both := []*started{start(t, Options{StateDir: dir, Folder: dir}), start(t, Options{StateDir: dir, Folder: dir})}
	a, b := both[0].address(t), both[1].address(t)
	if origin(a) != origin(b) {
		t.Errorf("two desks: %s and %s", a, b)
	}
	for _, s := range both {
		s.stop()
		if err := s.ends(t); err != nil {
			t.Error(err)
		}
	}
}

func TestIdleEnd(t *testing.T) {
	dir := t.TempDir()
	s := start(t, Options{StateDir: dir, Folder: dir, Idle: 300 * time.Millisecond})
	s.address(t)
	if err := s.ends(t); err != nil || !strings.Contains(s.out.String(), "so it closes") {
		t.Errorf("%v %s", err, s.out)
	}
}

func TestPlainWordsWithoutABrowser(t *testing.T) {
	dir := t.TempDir()
	s := start(t, Options{StateDir: dir, Folder: dir, Browse: func(string) error { return errors.New("none here") }})
	for range 200 {
		if strings.Contains(s.out.String(), "http://127.0.0.1:") {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	if got := s.out.String(); !strings.Contains(got, "No browser could be started (none here). Open this address") {
		t.Error(got)
	}
	s.stop()
	if err := s.ends(t); err != nil {
		t.Error(err)
	}
	if err := Open(t.Context(), Options{StateDir: dir, Folder: dir, Lang: words.English, File: filepath.Join(dir, "none.logbook"), NoBrowser: true}); err == nil {
		t.Error("a logbook that is not there was opened")
	}
}
