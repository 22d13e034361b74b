package web

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"soakline/internal/task"
	"soakline/internal/words"
)

// upload sends files as the form does.
func (x *testDesk) upload(t testing.TB, files map[string]string) *got {
	t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for name, text := range files {
		p, err := w.CreateFormFile("file", name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	req, err := http.NewRequest(http.MethodPost, x.srv.URL+"/sheets", &body)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", w.FormDataContentType())
	return x.do(t, req)
}

const plainSheet = `deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1,check2_at,consumed_by_check2,lost_by_check2
D1,dock,sand,36.9512,-8.2034,2026-07-01T09:00+01:00,25,2026-07-01T10:02+01:00,9,0,2026-07-02T09:00+01:00,21,1
D2,dock,sand,36.9513,-8.2036,2026-07-03T09:00+01:00,25,2026-07-03T10:02+01:00,26,0,2026-07-04T09:00+01:00,21,0
`

// Looking keeps nothing; keeping keeps what was shown; the same file again
// changes nothing; a corrected copy revises what was corrected.
func TestLookThenKeep(t *testing.T) {
	x := newDesk(t, words.English)
	x.emptyBook(t)
	x.enter(t)
	g := x.upload(t, map[string]string{"dock.csv": plainSheet})
	for _, want := range []string{"It can be read", "2 new rows, 0 changed, 0 as before", "26 baits consumed of 25 deployed", "dock.csv line 3", "The datasheet's own name"} {
		if !strings.Contains(g.main(), want) {
			t.Errorf("no %q in %.900s", want, g.main())
		}
	}
	if rows := x.get(t, "/rows"); !strings.Contains(rows.main(), "No rows yet") {
		t.Fatalf("looking kept something: %.300s", rows.main())
	}
	// Left alone, nothing is kept.
	g = x.post(t, strings.TrimSuffix(g.at.Path, "/")+"/drop", nil)
	if !strings.Contains(g.main(), "Nothing of that sheet was kept") {
		t.Errorf("%.200s", g.main())
	}
	g = x.upload(t, map[string]string{"dock.csv": plainSheet})
	g = x.post(t, g.at.Path+"/keep", nil)
	if g.at.Path != "/rows" || !strings.Contains(g.main(), "Kept: 2 new rows") || !strings.Contains(g.main(), "out of the answer until mended") {
		t.Fatalf("%s %.300s", g.at, g.main())
	}
	g = x.upload(t, map[string]string{"dock.csv": plainSheet})
	if !strings.Contains(g.main(), "Nothing new in it") || !strings.Contains(g.main(), "byte for byte") {
		t.Errorf("the same file again: %.300s", g.main())
	}
	g = x.upload(t, map[string]string{"dock.csv": strings.Replace(plainSheet, ",26,0,", ",16,0,", 1)})
	if !strings.Contains(g.main(), "0 new rows, 1 changed, 1 as before") {
		t.Errorf("a corrected copy: %.300s", g.main())
	}
	g = x.post(t, g.at.Path+"/keep", nil)
	if !strings.Contains(g.main(), "Every question is answered") {
		t.Errorf("after mending: %.300s", g.main())
	}
}

func TestFaultsStandInTheirLines(t *testing.T) {
	x := newDesk(t, words.English)
	x.emptyBook(t)
	x.enter(t)
	g := x.upload(t, map[string]string{"dock.csv": strings.Replace(strings.Replace(plainSheet, "2026-07-01T10:02+01:00", "9.65 h", 1), "2026-07-04T09:00+01:00", "next day", 1)})
	if !strings.Contains(g.main(), "2 cells cannot be read") || !strings.Contains(g.main(), "dock.csv line 2, column check1_at") {
		t.Errorf("%.600s", g.main())
	}
	wrong := find(g.doc, "td", func(n *html.Node) bool { return strings.Contains(attr(n, "class"), "is-wrong") })
	if len(wrong) != 2 || textOf(wrong[0]) != "9.65 h" || textOf(wrong[1]) != "next day" {
		t.Errorf("%d cells are marked, want the two", len(wrong))
	}
	if strings.Contains(g.body, "/keep") {
		t.Error("a faulty file can be kept")
	}
	for name, file := range map[string]map[string]string{
		"empty": {"a.csv": ""}, "picture": {"a.png": "\x89PNG\r\n\x1a\n"}, "none": {},
	} {
		if g := x.upload(t, file); g.doc == nil || g.status >= 500 || strings.Contains(g.body, "/keep") {
			t.Errorf("%s: %d", name, g.status)
		}
	}
}

// The map is shown with a reason for each guess; a select corrects it, and the
// sheet is read again by it.
func TestColumnIsReadAsSomethingElse(t *testing.T) {
	x := newDesk(t, words.English)
	x.emptyBook(t)
	x.enter(t)
	sheet := strings.NewReplacer("consumed_by_check2", "missing").Replace(plainSheet)
	g := x.upload(t, map[string]string{"dock.csv": sheet})
	name := ""
	for _, s := range find(g.doc, "select", nil) {
		for _, l := range find(g.doc, "label", func(n *html.Node) bool { return attr(n, "for") == attr(s, "id") }) {
			if strings.HasPrefix(textOf(l), "missing ") {
				name = attr(s, "name")
			}
		}
	}
	if name == "" {
		t.Fatalf("no select for the column: %.800s", g.main())
	}
	var form url.Values
	for _, f := range find(g.doc, "form", func(n *html.Node) bool { return len(find(n, "select", nil)) > 3 }) {
		form = formValuesOf(f)
	}
	form.Set(name, "consumed_by_check2")
	g = x.post(t, g.at.Path, form)
	if strings.Contains(g.main(), "only you can say") {
		g = x.post(t, g.at.Path, g.formOf(t, filepath.Base(g.at.Path)))
	}
	if !strings.Contains(g.main(), "9, then 21 of 25 gone") {
		t.Errorf("read again: %.900s", g.main())
	}
	if !strings.Contains(g.main(), "Chosen by a person") && !strings.Contains(g.main(), "map") {
		t.Errorf("does not say that a person chose: %.900s", g.main())
	}
}

// Every messy shape of the readers' own collection comes through the pages:
// questions with a proposal are taken as proposed, and what was asked is shown.
func TestMessyShapesComeThrough(t *testing.T) {
	dir := filepath.Join("..", "intake", "testdata", "shapes")
	for _, shape := range [][]string{{"04-left.xlsx"}, {"07-which-day.csv"}, {"05-sheet-per-site.xlsx"}, {"11-stake-letters.rows.csv", "11-stake-letters.fates.csv"}, {"10-long.deployments.csv", "10-long.visits.csv"}, {"13-unreadable.csv"}} {
		x := newDesk(t, words.English)
		x.emptyBook(t)
		x.enter(t)
		files := map[string]string{}
		for _, name := range shape {
			b, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			files[name] = string(b)
		}
		g := x.upload(t, files)
		for turn := 0; strings.Contains(g.main(), "only you can say") && turn < 6; turn++ {
			form := g.formOf(t, filepath.Base(g.at.Path))
			for name, v := range form { // what has no proposal: a zone
				if strings.HasPrefix(name, "free") && v[0] == "" {
					form.Set(name, "Europe/Lisbon")
				}
			}
			g = x.post(t, g.at.Path, form)
		}
		if shape[0] == "13-unreadable.csv" || shape[0] == "10-long.deployments.csv" { // a word for a time; a check of a row that is not there
			if !strings.Contains(g.main(), "cannot be read") {
				t.Errorf("%v: %.400s", shape, g.main())
			}
			continue
		}
		if !strings.Contains(g.main(), "It can be read") {
			t.Errorf("%v: %.600s", shape, g.main())
		}
		if g = x.post(t, g.at.Path+"/keep", nil); g.at.Path != "/rows" {
			t.Errorf("%v kept: %s %.300s", shape, g.at, g.main())
		}
	}
}

// More than is read at once is refused in words, on a page, not by cutting the
// browser off.
func TestUploadIsBounded(t *testing.T) {
	old := mostBytes
	mostBytes = 1 << 20
	defer func() { mostBytes = old }()
	x := newDesk(t, words.English)
	x.emptyBook(t)
	x.enter(t)
	g := x.upload(t, map[string]string{"big.csv": strings.Repeat("a,b,c\n", 1<<20)})
	if g.status != http.StatusRequestEntityTooLarge || !strings.Contains(g.main(), "more than 1 MB at once") {
		t.Errorf("%d %.300s", g.status, g.main())
	}
}

// A row that came into the logbook between the look and the keeping raises a
// question; it is asked, not lost.
func TestLogbookChangesBetweenLookAndKeep(t *testing.T) {
	x := newDesk(t, words.English)
	x.emptyBook(t)
	x.enter(t)
	g := x.upload(t, map[string]string{"dock.csv": plainSheet})
	if !strings.Contains(g.main(), "It can be read") {
		t.Fatalf("%.300s", g.main())
	}
	values := map[string]string{"deployment_id": "Q1", "site": "dock", "habitat": "sand", "deployed_at": "2026-07-01T09:00+01:00", "baits_deployed": "25"}
	if _, err := task.Add(t.Context(), x.book.book, values, task.By{Who: "Ana", When: noon()}); err != nil {
		t.Fatal(err)
	}
	g = x.post(t, g.at.Path+"/keep", nil)
	if !strings.Contains(g.main(), "only you can say") || !strings.Contains(g.main(), "Is it the same row?") {
		t.Fatalf("%s %.300s", g.at, g.main())
	}
	g = x.post(t, g.at.Path, g.formOf(t, filepath.Base(g.at.Path)))
	if g = x.post(t, g.at.Path+"/keep", nil); !strings.Contains(g.main(), "1 changed") && !strings.Contains(g.main(), "one new row") {
		t.Errorf("%s %.300s", g.at, g.main())
	}
}
