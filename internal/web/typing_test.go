package web

import (
	"bytes"
	"context"
	"image"
	"image/jpeg"
	"maps"
	"mime/multipart"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"golang.org/x/net/html"

	"soakline/internal/logbook"
	"soakline/internal/task"
	"soakline/internal/words"
)

// photo is a small JPEG with an invented position and device in its fields.
func photo(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 600, 800)), nil); err != nil {
		t.Fatal(err)
	}
	secret := "Exif\x00\x00II*\x00 GPS 36.9512 Camera X100"
	full := append([]byte{0xff, 0xd8, 0xff, 0xe1, 0, byte(len(secret) + 2)}, secret...)
	return append(full, b.Bytes()[2:]...)
}

func (x *testDesk) photo(t testing.TB, id, name string, data []byte) *got {
	t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	_ = w.WriteField("id", id)
	p, err := w.CreateFormFile("photo", name)
	if err != nil {
		t.Fatal(err)
	}
	_, _ = p.Write(data)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	req, err := http.NewRequest(http.MethodPost, x.srv.URL+"/type/photo", &body)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", w.FormDataContentType())
	return x.do(t, req)
}

// typedCounts are the fields of one sheet, as a person would type them.
var typedCounts = map[string]string{"site": "Kell Spit", "habitat": "sand", "date": "20260701", "deployed_at": "0902", "deployed_until": "0921", "baits_deployed": "25",
	"check1_at": "1004", "present_at_check1": "16", "consumed_by_check1": "9", "lost_by_check1": "0", "unread_at_check1": "0",
	"check2_at": "0910", "present_at_check2": "3", "consumed_by_check2": "20", "lost_by_check2": "2", "unread_at_check2": "0", "stakes_retrieved": "23", "retrieved_at": "0930"}

func typedForm2(base url.Values, fields map[string]string, do string) url.Values {
	form := maps.Clone(base)
	for k, v := range fields {
		form.Set("t:"+k, v)
	}
	form.Set("do", do)
	return form
}

// A sheet is typed with scripts off, looked over, kept; a second person types it
// blind, and what differs is chosen field by field. Who typed what stays.
func TestSheetTypedTwice(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	x.emptyBook(t)
	g := x.get(t, "/type/sheet?id=D7&level=counts")
	form := g.formOf(t, "/type/sheet")
	if g := x.post(t, "/type/sheet", typedForm2(form, map[string]string{"date": "20260231", "check1_at": "2561"}, "keep")); g.status != http.StatusUnprocessableEntity ||
		!strings.Contains(g.main(), `"20260231" is not a date`) || !strings.Contains(g.main(), `"2561" is not a time of day`) {
		t.Errorf("what cannot be read: %d %.400s", g.status, g.main())
	}
	look := x.post(t, "/type/sheet", typedForm2(form, typedCounts, "look"))
	if !strings.Contains(look.main(), "2026-07-02 09:10+01:00") || !strings.Contains(look.main(), "9 of 25 baits were gone after 1 h 02 min") {
		t.Errorf("looked over: %d %.1200s", look.status, look.main())
	}
	off := maps.Clone(typedCounts)
	off["present_at_check2"] = "4"
	g = x.post(t, "/type/sheet", typedForm2(form, off, "keep"))
	if g.status != http.StatusUnprocessableEntity || !strings.Contains(g.main(), "the counts add up to 26, but 25 stakes were set") {
		t.Errorf("a sum that is off: %d %.400s", g.status, g.main())
	}
	g = x.post(t, "/type/sheet", typedForm2(form, typedCounts, "keep"))
	if g.at.Path != "/type" || !strings.Contains(g.main(), "Row D7 is kept") || !strings.Contains(g.main(), "One sheet typed once") {
		t.Fatalf("kept: %s %.300s", g.at, g.main())
	}

	again := x.get(t, g.href(t, "/type/sheet?how=again"))
	form = again.formOf(t, "/type/sheet")
	if form.Get("t:consumed_by_check1") != "" || form.Get("t:date") != "" {
		t.Errorf("the second typing is not blind: %v", form)
	}
	second := maps.Clone(typedCounts)
	second["consumed_by_check1"], second["present_at_check1"], second["check2_at"], second["notes"] = "8", "17", "0915", "surf"
	kept := typedForm2(form, second, "keep")
	kept.Set("typed-by", "Ben")
	g = x.post(t, "/type/sheet", kept)
	if !strings.Contains(g.main(), "Row D7: 3 fields differ") || !strings.Contains(g.main(), "kept, by Ana") || !strings.Contains(g.main(), "now, by Ben") {
		t.Fatalf("differences: %d %.600s", g.status, g.main())
	}
	choice := g.formOf(t, "/type/settle")
	for name := range choice {
		if strings.HasPrefix(name, "c:") {
			choice.Del(name)
		}
	}
	choice.Set("c:consumed_by_check1", "typed")
	choice.Set("c:check2_at", "kept")
	if g := x.post(t, "/type/settle", choice); g.status != http.StatusUnprocessableEntity || !strings.Contains(g.main(), "One field is still to be chosen") {
		t.Errorf("not all chosen: %d %.300s", g.status, g.main())
	}
	choice.Set("c:notes", "typed")
	if g := x.post(t, "/type/settle", choice); !strings.Contains(g.main(), "Row D7 is kept as chosen") {
		t.Fatalf("settled: %d %.300s", g.status, g.main())
	}
	var key string
	err := x.book.book.View(context.Background(), func(tx *logbook.Tx) error {
		all, err := task.FindEntries(tx, "D7")
		if err != nil || len(all) != 1 {
			t.Fatalf("%d rows, %v", len(all), err)
		}
		key = all[0].Record.Key
		f := all[0].Record.Fields
		if f["consumed_by_check1"] != "8" || f["notes"] != "surf" || !strings.HasPrefix(f["check2_at"], "2026-07-02T09:10") {
			t.Errorf("kept: %v", f)
		}
		typings, err := task.Typings(tx, key)
		if len(typings) != 2 || typings[0].Who != "Ana" || typings[1].Who != "Ben" || typings[1].Unlike != 3 || typings[1].Taken != 2 {
			t.Errorf("typings: %+v", typings)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if g := x.get(t, "/rows/"+key); !strings.Contains(g.main(), "typed again by Ben, 3 fields unlike what was kept, 2 of them taken over") {
		t.Errorf("row page: %.900s", g.main())
	}
	// The same again in every field needs no choice.
	form = x.get(t, "/type/sheet?id="+key+"&how=again").formOf(t, "/type/sheet")
	second["check2_at"] = "0910"
	if g := x.post(t, "/type/sheet", typedForm2(form, second, "keep")); !strings.Contains(g.main(), "was typed the same both times") {
		t.Errorf("the same again: %.500s", g.main())
	}
}

// A field that is cleared on a known row is taken away, and a form filled before
// somebody else changed the row keeps nothing.
func TestSheetOfAKnownRow(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	x.emptyBook(t)
	form := x.get(t, "/type/sheet?id=D7&level=counts").formOf(t, "/type/sheet")
	x.post(t, "/type/sheet", typedForm2(form, typedCounts, "keep"))
	form = x.get(t, "/type/sheet?id=D7").formOf(t, "/type/sheet")
	for name, want := range map[string]string{"date": "20260701", "deployed_at": "0902", "check2_at": "0910", "retrieved_at": "0930", "site": "Kell Spit"} {
		if got := form.Get("t:" + name); got != want {
			t.Errorf("%s stands as %q, want %q", name, got, want)
		}
	}
	stale := maps.Clone(form)
	if g := x.post(t, "/type/sheet", typedForm2(form, map[string]string{"deployed_until": "", "stakes_retrieved": "25"}, "keep")); !strings.Contains(g.main(), "Row D7 is kept") {
		t.Fatalf("%.300s", g.main())
	}
	if g := x.post(t, "/type/sheet", typedForm2(stale, map[string]string{"stakes_retrieved": "1"}, "keep")); g.status != http.StatusUnprocessableEntity || !strings.Contains(g.main(), "was changed meanwhile") {
		t.Errorf("%d %.300s", g.status, g.main())
	}
	form = x.get(t, "/type/sheet?id=D7").formOf(t, "/type/sheet")
	if form.Get("t:deployed_until") != "" || form.Get("t:stakes_retrieved") != "25" {
		t.Errorf("%v", form)
	}
}

// A photo waits for its row, stands beside the form and then beside the row; what
// is served holds neither position nor device, the original stays in the logbook.
func TestPhotoBesideTheSheet(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	x.emptyBook(t)
	data := photo(t)
	for name, wrong := range map[string][]byte{"empty.jpg": {}, "note.heic": []byte("ftypheic"), "cut.jpg": data[:200]} {
		if g := x.photo(t, "D7", name, wrong); g.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", name, g.status)
		}
	}
	g := x.photo(t, "D7", `C:\fakepath\sheet.jpg`, data)
	if g.at.Path != "/type/sheet" || !strings.Contains(g.main(), "sheet.jpg is kept beside row D7") {
		t.Fatalf("%s %.300s", g.at, g.main())
	}
	img := find(g.doc, "img", nil)
	if len(img) != 1 {
		t.Fatalf("%d pictures beside the form", len(img))
	}
	served := x.get(t, attr(img[0], "src"))
	if served.header.Get("Content-Type") != "image/jpeg" || strings.Contains(served.body, "GPS") || strings.Contains(served.body, "X100") {
		t.Errorf("served: %v", served.header)
	}
	if !strings.Contains(x.get(t, "/type").main(), "One picture whose sheet is not typed yet") {
		t.Error("the waiting picture is not told")
	}
	x.post(t, "/type/sheet", typedForm2(g.formOf(t, "/type/sheet"), typedCounts, "keep"))
	row := x.get(t, x.get(t, "/rows").href(t, "/rows/0"))
	if len(find(row.doc, "img", nil)) != 1 {
		t.Errorf("no picture beside the row: %.300s", row.main())
	}
	err := x.book.book.View(context.Background(), func(tx *logbook.Tx) error {
		scans, err := task.Scans(tx)
		if err != nil || len(scans) != 1 || scans[0].Record == "" {
			t.Fatalf("%+v %v", scans, err)
		}
		original, err := tx.Original(scans[0].Source)
		if !bytes.Equal(original, data) {
			t.Error("the original is not kept as it was")
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/scans/x/1", attr(img[0], "src") + "9"} {
		if g := x.get(t, path); g.status != http.StatusNotFound {
			t.Errorf("%s: %d", path, g.status)
		}
	}
}

// typist counts the keys pressed.
type typist struct {
	*tab
	keys int
}

func (k *typist) press(text string) {
	k.t.Helper()
	k.keys += len(text)
	k.do(chromedp.KeyEvent(strings.ReplaceAll(text, "\n", kb.Enter)))
}

// at says which field has the keyboard.
func (k *typist) at(name string) {
	k.t.Helper()
	got := ""
	for range 60 { // a page that has just come puts the focus on its field a little later
		if got = evaluate[string](k.tab, `((e)=>e?e.name||e.value||e.tagName:"")(document.activeElement)`); got == name {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	k.t.Fatalf("the keyboard is at %s, want %s; the form holds %s", got, name, evaluate[string](k.tab, `[...document.querySelectorAll("main input")].filter(e=>e.value).map(e=>e.name+"="+e.value).join(" ")`))
}

// A sheet of 25 stakes and two checks, with number keys and Enter alone. At two
// keys a second (slow for a number pad; common practice, no source) 90 s are 180
// keys; a fate takes one key, and no more than two are allowed.
func TestJourneySheetByNumberKeys(t *testing.T) {
	x := newDesk(t, words.English)
	b := browse(t, x, 1440)
	for name, width := range map[string]int{"1440": 1440} {
		x.emptyBookAs(t, "typed-"+name)
		b.do(chromedp.EmulateViewport(int64(width), 900))
		b.open(x.Ticket("/type"))
		x.enter(t)
		// A planned row: its site is known, and Kell Spit has a zone by the logbook's.
		_, err := task.Add(context.Background(), x.book.book, map[string]string{"deployment_id": "17", "site": "Kell Spit", "habitat": "sand", "baits_deployed": "25", "observers": "Ana and Ben"}, task.By{Who: "Ana", When: noon()})
		if err != nil {
			t.Fatal(err)
		}
		x.book.forget()
		x.photo(t, "17", "sheet.jpg", photo(t))
		b.open("/type")
		k := &typist{tab: b}
		k.at("id")
		k.press("17")
		evaluate[bool](b, `document.querySelector("#level-stakes").click(); window.stale=true; document.querySelector("#id").focus(); true`)
		k.press("\n")
		b.arrived()
		k.at("t:date")
		k.press("20260701\n\n") // past who sets and reads, which is known
		k.at("t:watch_read_at")
		k.press("0850\n\n3\n")
		k.at("t:people_back")
		k.press("2")
		if says := b.text("fieldset .headsnow:not(:empty)"); !strings.Contains(says, "Make sure now that everybody is ashore") {
			t.Errorf("2 of 3 people back is not said at once: %q", says)
		}
		k.do(chromedp.KeyEvent(kb.Backspace))
		k.press("3\n")
		k.at("t:deployed_at")
		k.press("0902\n0921\n\n0\n1.5\n\n\n\n\n\n18.4\n5\n2\n") // past stakes set, depth read at, both positions, bearing, batch
		k.at("t:check1_at")
		k.press("1002\n1015\n")
		k.at("t:fate_1_1")
		before := k.keys
		k.press("1121112111411121112111311")
		k.at("t:reader_of_check1")
		if n := k.keys - before; n > 2*25 {
			t.Errorf("%d keys for 25 fates", n)
		}
		k.press("1\n\n3\n3\n")
		k.at("t:check2_at")
		k.press("0910\n0925\n2222112211212121112211321")
		k.at("t:reader_of_check2")
		b.shot("typing-" + name + ".png")
		k.press("1\n\n3\n3\n24\n0940\n\n1\n\n\n\n") // past what is left, landmarks, notes, who types
		k.at("do")
		evaluate[bool](b, `window.stale=true`)
		k.press("\n")
		b.arrived()
		if got := b.text(".flash"); !strings.HasPrefix(got, "Row 17 is kept") {
			t.Fatalf("%s: %q %.500s", name, got, b.text("main"))
		}
		t.Logf("%s: %d keys", name, k.keys)
		if k.keys > 180 {
			t.Errorf("%d keys for one sheet", k.keys)
		}
		g := x.get(t, "/rows")
		g = x.get(t, g.href(t, "/rows/0"))
		// By hand: the first line of boxes has 4 twos, the second 12. The soaks run
		// between the midpoints 09:11:30, 10:08:30 and 09:17:30 of the next day.
		for _, want := range []string{"4 of 25 baits were gone after 57 min and 12 after 24 h 06 min", "2026-07-02 09:10"} {
			if !strings.Contains(g.main(), want) {
				t.Errorf("%s: no %q in %.1500s", name, want, g.main())
			}
		}
	}
}

// With scripts off, Enter looks the sheet over and keeps nothing: the button that
// a browser presses for Enter is the first of the form.
func TestEnterAloneKeepsNothing(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	x.emptyBook(t)
	g := x.get(t, "/type/sheet?id=D7&level=stakes")
	var buttons []string
	for _, f := range find(g.doc, "form", func(n *html.Node) bool { return attr(n, "action") == "/type/sheet" }) {
		for _, n := range find(f, "button", nil) {
			buttons = append(buttons, attr(n, "value"))
		}
		if n := len(find(f, "input", func(n *html.Node) bool { return attr(n, "class") == "box" })); n != 50 {
			t.Errorf("%d boxes for 25 stakes and two checks", n)
		}
	}
	if !slices.Equal(buttons, []string{"look", "keep"}) {
		t.Errorf("%v", buttons)
	}
	form := g.formOf(t, "/type/sheet")
	for i := range 25 {
		form.Set("t:fate_1_"+strconv.Itoa(i+1), "2")
	}
	x.post(t, "/type/sheet", typedForm2(form, map[string]string{"site": "S", "habitat": "sand", "date": "20260701", "deployed_at": "0900", "check1_at": "1000"}, "look"))
	if g := x.get(t, "/rows"); !strings.Contains(g.main(), "No rows yet") {
		t.Errorf("%.200s", g.main())
	}
}

// Whatever the paper asks for has a field on the page: each label of a blank sheet
// with counts stands on the page, but for the permit (kept with the site) and the
// people to call, who are not typed in.
func TestEveryPrintedFieldIsTyped(t *testing.T) {
	for _, l := range words.Languages {
		x := newDesk(t, l).enter(t)
		x.emptyBook(t)
		text := strings.ToLower(x.get(t, "/type/sheet?id=&level=counts").main())
		for _, slug := range []string{"site", "habitat", "date", "names", "watch", "watch-against", "heads-out", "heads-back", "first-in", "last-in", "stakes-out", "depth-min", "depth-max",
			"depth-at", "first-position", "last-position", "bearing", "batch", "temperature", "visibility", "near", "read-from", "read-until", "reader", "back-at", "stakes-left", "stake-1"} {
			if want := strings.ToLower(l.Say("paper.field."+slug, nil)); !strings.Contains(text, want) {
				t.Errorf("%s: %q is printed and cannot be typed", l, want)
			}
		}
		for _, fate := range []string{"present", "consumed", "not-known", "unread"} {
			if want := strings.ToLower(l.Say("paper.fate."+fate, nil)); !strings.Contains(text, want) {
				t.Errorf("%s: %q is printed and cannot be typed", l, want)
			}
		}
	}
}
