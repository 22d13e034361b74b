package web

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"soakline/internal/demo"
	"soakline/internal/task"
	"soakline/internal/words"
)

// messy writes one team's messy sheet of the invented season into a folder.
func messy(t testing.TB, ending, dir string) string {
	t.Helper()
	for _, f := range demo.Make(demo.DefaultSeed).Files() {
		if f.Messy && strings.HasSuffix(f.Name, ending) {
			path := filepath.Join(dir, filepath.Base(f.Name))
			if err := os.WriteFile(path, f.Bytes, 0o644); err != nil {
				t.Fatal(err)
			}
			return path
		}
	}
	t.Fatalf("no messy sheet ends in %s", ending)
	return ""
}

// emptyBook opens a new logbook with the demo's habitats listed.
func (x *testDesk) emptyBook(t testing.TB) {
	t.Helper()
	path := filepath.Join(x.folder, "mine.logbook")
	by := task.By{Who: "Ana", When: noon()}
	book, err := task.New(context.Background(), path, task.Settings{Title: "Mine", Zone: "Europe/Lisbon"}, "soakline test", by)
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range []string{"seagrass", "sand", "reef"} {
		if err := task.AddHabitat(context.Background(), book, h, nil, by); err != nil {
			t.Fatal(err)
		}
	}
	if err := book.Close(); err != nil {
		t.Fatal(err)
	}
	if err := x.Open(context.Background(), path); err != nil {
		t.Fatal(err)
	}
}

func (b *tab) text(sel string) string {
	b.t.Helper()
	return evaluate[string](b, `(document.querySelector(`+"`"+sel+"`"+`)||{innerText:""}).innerText`)
}

// press clicks and waits for the next page.
func (b *tab) press(sel string) {
	b.t.Helper()
	evaluate[bool](b, `window.stale=true`)
	b.do(chromedp.Click(chromedp.CSS(sel)))
	b.arrived()
}

// arrived waits until the page that was pressed on has given way to one that
// is there and shows no work in progress. A look while it changes fails; the
// next one tells.
func (b *tab) arrived() {
	b.t.Helper()
	for range 400 {
		time.Sleep(50 * time.Millisecond)
		ok, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`!window.stale && document.readyState==="complete" && !document.querySelector("main > .work")`))
		if err == nil && ok {
			return
		}
		if b.ctx.Err() != nil {
			break
		}
	}
	b.t.Fatal("the next page did not come")
}

func TestImportShots(t *testing.T) {
	if os.Getenv("SOAKLINE_SHOTS") == "" {
		t.Skip("pictures for looking at: SOAKLINE_SHOTS=folder")
	}
	for name, width := range map[string]int{"360": 360, "1440": 1440} {
		x := newDesk(t, words.English)
		x.emptyBook(t)
		b := browse(t, x, width)
		b.open(x.Ticket("/"))
		b.shot("empty-" + name + ".png")
		for i, end := range []string{".xlsx", ".csv"} {
			b.open("/sheets")
			b.do(chromedp.SetUploadFiles(chromedp.CSS("#file"), []string{messy(t, end, x.folder)}))
			b.press(".drop .do")
			b.shot("sheet" + string(rune('a'+i)) + "1-" + name + ".png")
			t.Log(b.text("h1"))
			if strings.Contains(b.text("main"), "Go on") {
				b.press(".asks-form .do")
				t.Log(b.text("h1"), b.text(".say"))
				b.shot("sheet" + string(rune('a'+i)) + "2-" + name + ".png")
			}
			if strings.Contains(b.text("main"), "Keep these") {
				b.press("form[action$=keep] .do")
				b.shot("kept" + string(rune('a'+i)) + "-" + name + ".png")
			}
		}
		b.open("/questions/one")
		b.shot("question-" + name + ".png")
		b.open("/rows")
		b.press("a.rowlink")
		b.shot("row-" + name + ".png")
		b.press("a[href$=mend]")
		b.shot("mend-" + name + ".png")
	}
}
