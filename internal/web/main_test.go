package web

import (
	"context"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"go.uber.org/goleak"

	"soakline/internal/task"
	"soakline/internal/words"
)

func TestMain(m *testing.M) {
	goleak.VerifyTestMain(m, goleak.Cleanup(func(code int) {
		if demoOnce.dir != "" {
			os.RemoveAll(demoOnce.dir)
		}
		os.Exit(code)
	}))
}

// noon is the clock of the tests: after the last row of the demo.
func noon() time.Time { return time.Date(2026, 11, 20, 12, 0, 0, 0, time.UTC) }

// replicates keeps reports short; the seasons simulated are tested where they are made.
var replicates = 19

// desk is a desk on a server of its own, with a browser's cookie jar.
type testDesk struct {
	*Desk
	srv    *httptest.Server
	client *http.Client
	folder string
}

func newDesk(t testing.TB, l words.Language) *testDesk {
	t.Helper()
	folder := t.TempDir()
	d, err := New(Options{Lang: l, Who: "Ana", Version: "test", StateDir: filepath.Join(folder, "state"), Folder: folder, Now: noon, Replicates: replicates, Patience: time.Minute})
	if err != nil {
		t.Fatal(err)
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	x := &testDesk{Desk: d, srv: httptest.NewServer(d.Handler()), client: &http.Client{Jar: jar, Transport: &http.Transport{}}, folder: folder}
	t.Cleanup(func() {
		x.client.CloseIdleConnections()
		x.srv.Close()
		if err := d.Close(); err != nil {
			t.Error(err)
		}
	})
	return x
}

// enter lets the client in.
func (x *testDesk) enter(t testing.TB) *testDesk {
	t.Helper()
	resp, err := x.client.Get(x.srv.URL + x.Ticket("/"))
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		t.Fatalf("entering gave %s", resp.Status)
	}
	return x
}

var demoOnce struct {
	dir string
	err error
}

// demoCopy puts a fresh copy of the invented season into a folder. The season
// is made once for all tests.
func demoCopy(t testing.TB, to string) string {
	t.Helper()
	if demoOnce.dir == "" && demoOnce.err == nil {
		demoOnce.dir, demoOnce.err = os.MkdirTemp("", "soakline-web-test-")
		if demoOnce.err == nil {
			_, demoOnce.err = task.MakeDemo(context.Background(), demoOnce.dir, task.DemoSeed, "soakline test", words.English, task.By{Who: "Ana", When: noon()})
		}
	}
	if demoOnce.err != nil {
		t.Fatal(demoOnce.err)
	}
	path := filepath.Join(to, "season.logbook")
	if err := task.Restore(context.Background(), filepath.Join(demoOnce.dir, "invented-season.logbook"), path); err != nil {
		t.Fatal(err)
	}
	return path
}

// withDemo opens the invented season on a desk.
func (x *testDesk) withDemo(t testing.TB) *testDesk {
	t.Helper()
	if err := x.Open(context.Background(), demoCopy(t, x.folder)); err != nil {
		t.Fatal(err)
	}
	return x
}
