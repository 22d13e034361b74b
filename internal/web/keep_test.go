package web

import (
	"bytes"
	"context"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"soakline/internal/logbook"
	"soakline/internal/task"
	"soakline/internal/words"
)

// send posts one file as a form does.
func (x *testDesk) send(t testing.TB, path, name string, data []byte) *got {
	t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	p, err := w.CreateFormFile("file", name)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.Write(data); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	req, err := http.NewRequest(http.MethodPost, x.srv.URL+path, &body)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", w.FormDataContentType())
	return x.do(t, req)
}

// twins are two logbooks of one team that part ways: both change D1's count, and
// the other one has a row more.
func twins(t *testing.T, x *testDesk) (theirs []byte) {
	t.Helper()
	x.emptyBook(t)
	ctx, by := context.Background(), task.By{Who: "Ben", When: noon(), Why: "typed"}
	row := func(id string) map[string]string {
		return map[string]string{"deployment_id": id, "site": "dock", "habitat": "sand", "latitude": "36.95", "longitude": "-8.2", "deployed_at": "2026-07-01T09:00Z",
			"baits_deployed": "25", "check1_at": "2026-07-01T10:00Z", "consumed_by_check1": "9", "lost_by_check1": "0"}
	}
	if _, err := task.Add(ctx, x.book.book, row("D1"), by); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(x.folder, "theirs.logbook")
	if err := task.Backup(ctx, x.book.book, path); err != nil {
		t.Fatal(err)
	}
	change := func(book *logbook.Book, count string) {
		t.Helper()
		if _, err := task.Correct(ctx, book, "D1", map[string]string{"consumed_by_check1": count}, by); err != nil {
			t.Fatal(err)
		}
	}
	change(x.book.book, "10")
	other, err := task.Open(ctx, path, false)
	if err != nil {
		t.Fatal(err)
	}
	change(other, "11")
	if _, err := task.Add(ctx, other, row("D2"), by); err != nil {
		t.Fatal(err)
	}
	if err := other.Close(); err != nil {
		t.Fatal(err)
	}
	if theirs, err = os.ReadFile(path); err != nil {
		t.Fatal(err)
	}
	return theirs
}

func count1(t *testing.T, x *testDesk) string {
	t.Helper()
	e, _, err := task.History(context.Background(), x.book.book, "D1")
	if err != nil {
		t.Fatal(err)
	}
	return e.Record.Fields["consumed_by_check1"]
}

// Another logbook of the team comes in: what agrees at once, what does not as a
// person answers; and nothing of it stays behind.
func TestAnotherLogbook(t *testing.T) {
	x := newDesk(t, words.English)
	theirs := twins(t, x)
	x.enter(t)
	g := x.send(t, "/keep/merge", "ben.logbook", theirs)
	for _, want := range []string{"One thing the two logbooks do not agree on", "ben.logbook", "consumed_by_check1", "Keep “10”, as here", "Take “11”, as there"} {
		if !strings.Contains(g.main(), want) {
			t.Errorf("no %q in %s", want, g.main())
		}
	}
	if c := count1(t, x); c != "10" {
		t.Errorf("an open question changed the count to %s", c)
	}
	if g := x.get(t, "/rows"); !strings.Contains(g.main(), "D2") {
		t.Error("what agrees did not come in")
	}
	held := x.guest.path
	form := g.formOf(t, "/keep/merge/"+x.guest.id)
	form.Set("a0", "*")
	form.Set("free0", "12")
	if g := x.post(t, "/keep/merge/"+x.guest.id, form); g.at.Path != "/rows" {
		t.Errorf("%s %s", g.at, g.main())
	}
	if c := count1(t, x); c != "12" {
		t.Errorf("the answer gave %s, want 12", c)
	}
	if _, err := os.Stat(held); !os.IsNotExist(err) || x.guest != nil {
		t.Errorf("the logbook brought in was left behind: %v", err)
	}
	if g := x.post(t, "/keep/merge/none", url.Values{}); !strings.Contains(g.main(), "choose it again") {
		t.Errorf("%s", g.main())
	}
	if g := x.send(t, "/keep/merge", "x.logbook", []byte("no logbook at all")); g.status == http.StatusOK || g.status == http.StatusInternalServerError {
		t.Errorf("a file that is no logbook: %d %s", g.status, g.main())
	}
}

// A whole logbook is told as whole, a damaged one by what is not as written.
func TestLookOver(t *testing.T) {
	x := newDesk(t, words.English)
	twins(t, x)
	x.enter(t)
	if g := x.post(t, "/keep/look", url.Values{}); !strings.Contains(g.main(), "It is whole") {
		t.Errorf("%s", g.main())
	}
}

// A protocol is added from its file, once, and can be got again.
func TestAddProtocol(t *testing.T) {
	x := newDesk(t, words.English)
	x.emptyBook(t)
	x.enter(t)
	g := x.get(t, "/keep/protocols/standard%201")
	if g.status != http.StatusOK || !strings.Contains(g.body, "version") {
		t.Fatalf("%d %.200s", g.status, g.body)
	}
	other := strings.Replace(g.body, `name = "standard"`, `name = "squares"`, 1)
	if other == g.body {
		t.Fatalf("the protocol has no name: %.300s", g.body)
	}
	if g := x.send(t, "/keep/protocol", "squares.toml", []byte(other)); g.at.Path != "/keep" || !strings.Contains(g.main(), "squares 1") {
		t.Errorf("%s %s", g.at, g.main())
	}
	changed := strings.Replace(other, "stakes = 25", "stakes = 30", 1)
	if g := x.send(t, "/keep/protocol", "squares.toml", []byte(changed+"\n# changed\n")); g.status != http.StatusUnprocessableEntity {
		t.Errorf("the same name with another text: %d %.300s", g.status, g.main())
	}
	if g := x.send(t, "/keep/protocol", "bad.toml", []byte("this is no protocol")); g.status != http.StatusUnprocessableEntity {
		t.Errorf("%d %.300s", g.status, g.main())
	}
	if g := x.post(t, "/keep/protocol", url.Values{}); !strings.Contains(g.main(), "file") {
		t.Errorf("%s", g.main())
	}
	if g := x.get(t, "/keep/protocols/none-9"); g.status != http.StatusNotFound {
		t.Errorf("%d", g.status)
	}
}

// The invented season is made and opened by one button, and by a second press.
func TestDemoButton(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	for range 2 {
		g := x.post(t, "/demo", url.Values{})
		if g.status != http.StatusOK || g.at.Path != "/rows" || !strings.Contains(strings.ToLower(textOf(g.doc)), "invented") {
			t.Fatalf("%d %s %.400s", g.status, g.at, g.main())
		}
	}
}
