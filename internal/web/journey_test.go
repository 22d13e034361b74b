package web

import (
	"context"
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

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
func (x *testDesk) emptyBook(t testing.TB) { t.Helper(); x.emptyBookAs(t, "mine") }

func (x *testDesk) emptyBookAs(t testing.TB, name string) {
	t.Helper()
	path := filepath.Join(x.folder, name+".logbook")
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

// keys sends keys to whatever has the focus.
func (b *tab) keys(keys string) { b.t.Helper(); b.do(chromedp.KeyEvent(keys)) }

// tabTo moves the focus by the keyboard alone until an element has it.
func (b *tab) tabTo(sel string) {
	b.t.Helper()
	for range 120 {
		if evaluate[bool](b, "!!document.activeElement && document.activeElement.matches(`"+sel+"`)") {
			return
		}
		b.keys(kb.Tab)
	}
	b.t.Fatalf("the keyboard does not reach %s", sel)
}

// enter presses the focused button or link and waits for the next page.
func (b *tab) enter() {
	b.t.Helper()
	evaluate[bool](b, `window.stale=true`)
	b.keys(kb.Enter)
	b.arrived()
}

var widths = map[string]int{"360": 360, "1440": 1440}

// One typed row becomes a picture, by the keyboard alone, in five actions or
// fewer from the start page: the fields that are already right are passed over.
func TestJourneyTypedRow(t *testing.T) {
	x := newDesk(t, words.English)
	b := browse(t, x, 360)
	for name, width := range widths {
		b.do(chromedp.EmulateViewport(int64(width), 900))
		b.open(x.Ticket("/"))
		b.tabTo("#gone1")
		b.keys("9") // first action
		b.tabTo("#gone2")
		b.keys("21") // second
		b.enter()    // third
		if got := b.text(".say"); got != "9 of 25 baits were gone after 1 h and 21 after 24 h." {
			t.Errorf("%s: %q", name, got)
		}
		shown := evaluate[int](b, `[...document.querySelectorAll(".picture svg")].filter(s=>s.getBoundingClientRect().width>0).length`)
		if shown != 1 {
			t.Errorf("%s: %d drawings of the row are seen, want 1", name, shown)
		}
		b.shot("journey-typed-" + name + ".png")
	}
}

// A messy workbook is dropped, its questions answered, its rows kept, what
// cannot be is mended, and the report comes out: at both widths, and after the
// drop by the keyboard alone.
func TestJourneyMessyWorkbookToReport(t *testing.T) {
	x := newDesk(t, words.English)
	b := browse(t, x, 360)
	data, err := os.ReadFile(messy(t, ".xlsx", t.TempDir()))
	if err != nil {
		t.Fatal(err)
	}
	for name, width := range widths {
		x.emptyBookAs(t, "mine-"+name)
		b.do(chromedp.EmulateViewport(int64(width), 900))
		b.open(x.Ticket("/"))
		b.tabTo(".next .do")
		b.enter()
		evaluate[bool](b, `window.stale=true; (()=>{
			const bytes = Uint8Array.from(atob("`+base64.StdEncoding.EncodeToString(data)+`"), c=>c.charCodeAt(0));
			const d = new DataTransfer();
			d.items.add(new File([bytes], "invented-marea.xlsx"));
			document.body.dispatchEvent(new DragEvent("drop", {dataTransfer: d, bubbles: true, cancelable: true}));
			return true})()`)
		b.arrived()
		b.shot("journey-asked-" + name + ".png")
		if got := b.text("h1"); got != "3 things only you can say" {
			t.Fatalf("%s after the drop: %q %.300s", name, got, b.text("main"))
		}
		b.tabTo(".asks-form .do")
		b.enter()
		b.shot("journey-found-" + name + ".png")
		b.tabTo("form[action$=keep] .do")
		b.enter()
		b.shot("journey-kept-" + name + ".png")
		if got := b.text(".flash"); !strings.HasPrefix(got, "Kept: 29 new rows") {
			t.Fatalf("%s kept: %q", name, got)
		}
		for range 8 { // every row that cannot be is taken out; mending is tested elsewhere
			if b.text(".next .do") != "Mend the first" {
				break
			}
			b.tabTo(".next .do")
			b.enter()
			b.tabTo(".way details summary")
			b.keys(kb.Enter)
			b.tabTo("#q-out")
			b.keys("cannot be right")
			b.enter()
			b.open("/rows")
		}
		b.open("/answer")
		b.tabTo("form[action$=report] button")
		b.enter()
		var link string
		for range 300 { // the report simulates seasons
			if link = evaluate[string](b, `(document.querySelector("a[href^='/answer/report/']")||{getAttribute(){return ""}}).getAttribute("href")`); link != "" {
				break
			}
			if name == "360" { // one report is enough: at the other width the page shows it at work
				time.Sleep(200 * time.Millisecond)
			} else if b.text(".work") != "" {
				break
			}
		}
		if name == "360" {
			g := x.enter(t).get(t, link)
			if !strings.HasPrefix(g.header.Get("Content-Disposition"), "attachment") || !strings.Contains(g.body, "of 100 baits") {
				t.Errorf("report: %d %v", g.status, g.header)
			}
		}
		b.shot("journey-report-" + name + ".png")
		x.jobs.cancelAll()
	}
}

// Every page passes the accessibility checker (WCAG 2.2 A and AA), never
// scrolls sideways, has no text below 16 px, and on the phone no target below
// 48 px but links inside a sentence.
func TestEveryPageIsAccessible(t *testing.T) {
	axe, err := os.ReadFile(filepath.Join("testdata", "axe-core-4.14.1.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	x := newDesk(t, words.Spanish).withDemo(t) // the longer language
	b := browse(t, x, 360)
	b.open(x.Ticket("/"))
	x.enter(t)
	pages := everyPage(t, x)
	g := x.upload(t, map[string]string{"dock.csv": strings.Replace(plainSheet, "2026-07-01T10:02+01:00", "9.65 h", 1)})
	pages = append(pages, g.at.Path)
	g = x.upload(t, map[string]string{"dock.csv": strings.Replace(plainSheet, ",sand,", ",sandy,", 1)})
	pages = append(pages, g.at.Path)
	pages = slices.DeleteFunc(pages, func(p string) bool { return p == "/rows?page=2" || p == "/answer?by=team" }) // nothing new on them
	for _, width := range []int{360, 1440} {
		b.do(chromedp.EmulateViewport(int64(width), 900))
		for i, p := range pages {
			b.open(p)
			b.shot(fmt.Sprintf("page-%02d-%d.png", i, width))
			evaluate[bool](b, `document.querySelectorAll("details").forEach(d=>d.open=true); true`)
			if width > 700 && !strings.HasPrefix(p, "/start") && !strings.HasPrefix(p, "/questions/one") && p != "/answer" {
				for _, v := range evaluate[[]string](b, layoutJS) {
					t.Errorf("%d %.60s: %s", width, p, v)
				}
				continue // the same markup was checked at the other width
			}
			evaluate[bool](b, string(axe)+";true")
			found := evaluate[[]string](b, `axe.run({include:[document],exclude:[["svg > *"]]},{runOnly:["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa"]}).then(r=>r.violations.map(v=>v.id+": "+v.nodes.slice(0,2).map(n=>n.html.slice(0,160)).join(" | ")))`)
			for _, v := range found {
				t.Errorf("%d %.60s: %s", width, p, v)
			}
			for _, v := range evaluate[[]string](b, layoutJS) {
				t.Errorf("%d %.60s: %s", width, p, v)
			}
		}
	}
}

// layoutJS lists what is too small or too wide on a page as it stands.
const layoutJS = `(()=>{
	const bad = [];
	if (document.documentElement.scrollWidth > innerWidth) {
		const wide = [...document.querySelectorAll("body *")].find(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".scroll"));
		bad.push("scrolls sideways: " + (wide ? wide.outerHTML.slice(0, 120) : ""));
	}
	const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	for (let n; n = walk.nextNode();) {
		const e = n.parentElement;
		if (!n.data.trim() || e.closest("noscript,script,title,desc,option") || !e.getClientRects().length) continue;
		let size = parseFloat(getComputedStyle(e).fontSize);
		const svg = e.closest("svg");
		if (svg) size *= svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
		if (size < 15.9) bad.push("text of " + size.toFixed(1) + " px: " + n.data.trim().slice(0, 40));
	}
	if (innerWidth < 700) for (const e of document.querySelectorAll("a,button,select,summary,input:not([type=hidden]),textarea")) {
		const r = e.getBoundingClientRect();
		if (!r.width || e.matches(".skip") || e.matches("p a, .hint a, dd a, td a, li > p a")) continue;
		const box = e.matches("[type=radio],[type=checkbox]") ? e.closest(".choice").getBoundingClientRect() : r;
		if (box.height < 47.5) bad.push("target of " + box.height.toFixed(0) + " px: " + e.outerHTML.slice(0, 100));
	}
	return [...new Set(bad)];
})()`
