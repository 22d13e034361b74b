package web

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"soakline/internal/words"
)

// The pages of paper, gear and typing in, each with everything unfolded, at both
// widths through the accessibility checker and by measure.
func TestPaperPagesAreAccessible(t *testing.T) {
	axe, err := os.ReadFile(filepath.Join("testdata", "axe-core-4.14.1.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	x := newDesk(t, words.Spanish) // the longer language
	b := browse(t, x, 360)
	x.emptyBookAs(t, "Papel")
	b.open(x.Ticket("/"))
	x.enter(t)
	x.post(t, "/gear/batch", map[string][]string{"code": {"B1"}, "kind": {"calamar"}, "form": {"disc"}, "size_mm": {"13"}})
	typed := map[string]string{"stakes_retrieved": "21", "landmarks": "torre blanca sobre la rampa", "last_position": "36.9514, -8.2030", "people_out": "3", "people_back": "2"}
	for k, v := range typedCounts {
		if _, there := typed[k]; !there {
			typed[k] = v
		}
	}
	form := typedForm2(x.get(t, "/type/sheet?id=D7&level=counts").formOf(t, "/type/sheet"), typed, "keep")
	if g := x.post(t, "/type/sheet", form); !strings.Contains(g.main(), "dé la alarma") {
		t.Errorf("fewer people back than out is not said: %.400s", g.main())
	}
	form.Set("sure", "yes")
	x.post(t, "/type/sheet", form)
	x.photo(t, "D7", "hoja.jpg", photo(t))
	for _, width := range []int64{360, 1440} {
		b.do(chromedp.EmulateViewport(width, 900))
		for _, p := range []string{"/print", "/print/sheets?which=blank&n=0", "/prep?rows=24&helpers=3", "/gear", "/packing?day=2026-07-05&team=Brisa&rows=3", "/type", "/type/sheet?id=D7", "/type/sheet?id=D7&how=again&level=stakes"} {
			b.open(p)
			evaluate[bool](b, `document.querySelectorAll("details").forEach(d=>d.open=true); true`)
			b.shot("paper" + strings.NewReplacer("/", "-", "?", "-", "&", "-", "=", "-").Replace(p) + "-" + strconv.Itoa(int(width)) + ".png")
			for _, v := range evaluate[[]string](b, layoutJS) {
				t.Errorf("%d %s: %s", width, p, v)
			}
			if width > 700 {
				continue // the same markup was checked at the other width
			}
			evaluate[bool](b, string(axe)+";true")
			for _, v := range evaluate[[]string](b, `axe.run({include:[document],exclude:[["svg > *"]]},{runOnly:["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa"]}).then(r=>r.violations.map(v=>v.id+": "+v.nodes.slice(0,2).map(n=>n.html.slice(0,160)).join(" | ")))`) {
				t.Errorf("%d %s: %s", width, p, v)
			}
		}
	}
}

// A batch is put on the list and changed, a packing list ticked and counted back,
// and a row's missing stakes are found and written off, all by Tab, Space, Enter
// and letters; nothing is clicked.
func TestJourneyGearByKeyboard(t *testing.T) {
	x := newDesk(t, words.English)
	b := browse(t, x, 1440)
	x.emptyBookAs(t, "Keys")
	b.open(x.Ticket("/"))
	x.enter(t)
	typed := map[string]string{}
	for k, v := range typedCounts {
		typed[k] = v
	}
	typed["stakes_retrieved"] = "23"
	x.post(t, "/type/sheet", typedForm2(x.get(t, "/type/sheet?id=D7&level=counts").formOf(t, "/type/sheet"), typed, "keep"))
	key := func(text string) { b.do(chromedp.KeyEvent(text)) }
	over := func(text string) { // types over what stands in a field: Tab has it selected
		key(text)
	}

	b.open("/gear")
	b.tabTo("details:has(#code) > summary")
	key(" ")
	b.tabTo("#code")
	key("B1")
	b.tabTo("#b-stored")
	key("dry")
	b.enter()
	if !strings.Contains(b.text("#batches ~ ul"), "B1") {
		t.Fatalf("no batch: %.300s", b.text("main"))
	}
	b.tabTo("details:has([name=change]) > summary")
	key(" ")
	b.tabTo("#c-B1-stored")
	over("dry, dark")
	b.enter()
	if !strings.Contains(b.text("#batches ~ ul"), "dry, dark") {
		t.Errorf("the batch is not changed: %.300s", b.text("#batches ~ ul"))
	}

	b.tabTo("#pack-day")
	over("2026-07-05")
	b.tabTo("#pack-rows")
	key("3")
	b.enter()
	b.tabTo("#taken0")
	key(" ")
	b.tabTo("[id^=back]")
	key("1")
	b.tabTo("form.packing button")
	b.enter()
	if !evaluate[bool](b, `document.querySelector("#taken0").checked`) || !strings.Contains(b.text("[role=alert]"), "Not back:") {
		t.Errorf("the list: %.300s", b.text("main"))
	}

	b.open("/gear")
	for _, step := range []struct {
		first string
		texts map[string]string
		order []string
	}{
		{"#found0", map[string]string{"#found0": "1", "#at0": "2026-08-15", "#w0": "north end"}, []string{"#found0", "#at0", "#w0"}},
		{"#left0", map[string]string{"#left0": "1", "#lw0": "in a crack at 3 m", "#ly0": "pulling breaks the reef"}, []string{"#left0", "#lw0", "#ly0"}},
	} {
		b.tabTo(".outs summary")
		key(" ")
		for _, id := range step.order {
			b.tabTo(id)
			over(step.texts[id])
		}
		b.enter()
	}
	if got := b.text("main"); !strings.Contains(got, "Every stake that was set is accounted for") {
		t.Errorf("%.500s", got)
	}
}
