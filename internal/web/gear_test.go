package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"soakline/internal/words"
)

// Four stakes of a row did not come back. The desk's first page says so until
// each is found or written off with a place and a reason.
func TestStakesStayTold(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	x.emptyBook(t)
	form := x.get(t, "/type/sheet?id=D7&level=counts").formOf(t, "/type/sheet")
	typed := map[string]string{}
	for k, v := range typedCounts {
		typed[k] = v
	}
	typed["stakes_retrieved"] = "21"
	x.post(t, "/type/sheet", typedForm2(form, typed, "keep"))
	if g := x.get(t, "/rows"); !strings.Contains(g.main(), "4 stakes of one row should be back and are not accounted for") {
		t.Fatalf("%.300s", g.main())
	}
	key := strings.TrimPrefix(x.get(t, "/rows").href(t, "/rows/0"), "/rows/")
	settle := func(how string, pairs ...string) *got {
		v := url.Values{"key": {key}, "how": {how}}
		for i := 0; i < len(pairs); i += 2 {
			v.Set(pairs[i], pairs[i+1])
		}
		return x.post(t, "/gear/stakes", v)
	}
	if g := settle("found", "n", "3", "at", "2026-08-15", "where", "north end"); g.status != http.StatusOK || !strings.Contains(g.main(), "One stake of one row should be back and is not") {
		t.Errorf("found: %d %.300s", g.status, g.main())
	}
	for _, wrong := range [][]string{{"n", "1", "why", "a storm"}, {"n", "1", "where", "in a crack"}, {"n", "2", "where", "in a crack", "why", "a storm"}, {"n", "", "where", "x", "why", "y"}} {
		if g := settle("left", wrong...); g.status != http.StatusUnprocessableEntity {
			t.Errorf("%v: %d", wrong, g.status)
		}
	}
	g := settle("left", "n", "1", "where", "in a crack at 3 m", "why", "pulling breaks the reef")
	if !strings.Contains(g.main(), "Every stake that was set is accounted for") || strings.Contains(x.get(t, "/rows").main(), "should be back") {
		t.Errorf("written off: %.300s", g.main())
	}
	// Taken back, it is told again.
	x.post(t, "/undo", g.formOf(t, "/undo"))
	if g := x.get(t, "/rows"); !strings.Contains(g.main(), "One stake of one row should be back") {
		t.Errorf("after undo: %.300s", g.main())
	}
}

// A batch is kept, measured and shown; a card is answered; a packing list is
// ticked and counted in, and what is not back is told.
func TestBatchCardAndPacking(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	x.emptyBook(t)
	g := x.post(t, "/gear/batch", url.Values{"code": {"B1"}, "kind": {"dried squid"}, "form": {"disc"}, "size_mm": {"13"}, "expires_on": {"soon"}})
	if g.status != http.StatusUnprocessableEntity || !strings.Contains(g.main(), "soon is not a day") || g.formOf(t, "/gear/batch").Get("kind") != "dried squid" {
		t.Errorf("%d %.300s", g.status, g.main())
	}
	x.post(t, "/gear/batch", url.Values{"code": {"B1"}, "kind": {"dried squid"}, "form": {"disc"}, "size_mm": {"13"}})
	g = x.post(t, "/gear/sample", url.Values{"code": {"B1"}, "sizes": {"12 13 14 15"}})
	if !strings.Contains(g.main(), "mean 13.50 mm") || !strings.Contains(g.main(), "1 out of the protocol") {
		t.Errorf("%.600s", g.main())
	}
	g = x.post(t, "/gear/card", url.Values{"reader": {"Ana"}, "card": {"3"}, "answers": {"111111111111"}})
	if !strings.Contains(g.main(), "Ana, card 3: 6 of 12 right") {
		t.Errorf("%.600s", g.main())
	}
	g = x.get(t, "/packing?day=2026-07-05&team=Crab&rows=3&people=2")
	form := g.formOf(t, "/packing")
	for name := range form {
		if strings.HasPrefix(name, "back") {
			form.Set(name, "0")
			break
		}
	}
	form.Set("taken0", "yes")
	form.Set("own", "flag")
	g = x.post(t, "/packing", form)
	if g.status != http.StatusOK || !strings.Contains(g.main(), "Not back:") || !strings.Contains(g.main(), "flag") || !strings.Contains(g.main(), "If baits run out") {
		t.Errorf("%d %.900s", g.status, g.main())
	}
	if again := x.get(t, "/packing?day=2026-07-05&team=Crab").formOf(t, "/packing"); again.Get("taken0") != "yes" || again.Get("rows") != "3" {
		t.Errorf("not kept: %v", again)
	}
	if g := x.get(t, "/packing?day=monday"); g.status != http.StatusUnprocessableEntity {
		t.Errorf("%d", g.status)
	}
}

// By hand: 20 baits measured, 4 of 10 out of size in one sample and one line of
// ten too long in the other, so 5 of 20 are no good; for every 15 good ones 20 are
// cut, so a third is spare, above the kit's fifth. A batch is changed in place,
// and a kit kept with a price is used.
func TestPrepareOnTheDesk(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	x.emptyBook(t)
	x.post(t, "/gear/batch", url.Values{"code": {"B1"}, "kind": {"squid"}, "form": {"disc"}, "size_mm": {"13"}, "stored": {"dry"}})
	form := url.Values{}
	for _, f := range find(x.get(t, "/gear").doc, "form", func(n *html.Node) bool { return attr(n, "action") == "/gear/batch" }) {
		if v := formValuesOf(f); v.Get("change") == "B1" {
			form = v
		}
	}
	if form.Get("stored") != "dry" || form.Get("form") != "disc" {
		t.Fatalf("the batch does not stand in its form: %v", form)
	}
	form.Set("stored", "dry, dark")
	form.Set("expires_on", "soon")
	if g := x.post(t, "/gear/batch", form); g.status != http.StatusUnprocessableEntity || !strings.Contains(g.main(), "soon is not a day") {
		t.Errorf("%d %.300s", g.status, g.main())
	}
	form.Set("expires_on", "2026-12-31")
	if g := x.post(t, "/gear/batch", form); !strings.Contains(g.main(), "dry, dark") || !strings.Contains(g.main(), "2026-12-31") {
		t.Errorf("not changed: %d %.500s", g.status, g.main())
	}
	x.post(t, "/gear/sample", url.Values{"code": {"B1"}, "sizes": {"13 13 13 13 13 13 9 10 17 18"}})
	x.post(t, "/gear/sample", url.Values{"code": {"B1"}, "lines": {"9 9 9 9 9 9 9 9 9 14"}})
	g := x.get(t, "/prep?rows=12&helpers=2")
	// 12 rows of 25 are 300; a third more are 400.
	if text := g.main(); !strings.Contains(text, "Of 20 baits measured before, 5 were out of size or badly tied") || !strings.Contains(text, "400") || !strings.Contains(text, "33") {
		t.Errorf("%.1500s", text)
	}
	kit := g.formOf(t, "/prep/kit")
	kit.Set("do", "keep")
	kit.Set("kit", "[item.stakes]\nprice = cheap")
	if g := x.post(t, "/prep/kit", kit); g.status != http.StatusUnprocessableEntity || !strings.Contains(g.main(), "the kit cannot be read") || !strings.Contains(g.body, "price = cheap") {
		t.Errorf("%d %.400s", g.status, g.main())
	}
	// 300 stakes and a tenth are 330, 14 packs of 25, at 6.50: 91.
	kit.Set("kit", "[item.stakes]\nprice = 6.5\n[[take]]\nname = \"kayak\"\nper = \"team\"\nn = 1\nback = true")
	if g := x.post(t, "/prep/kit", kit); !strings.Contains(g.main(), "91.00 for the one item with a price") || !strings.Contains(g.main(), "Your own are used") {
		t.Errorf("%d %.900s", g.status, g.main())
	}
	if g := x.get(t, "/packing?day=2026-07-05&rows=1&people=2"); !strings.Contains(g.main(), "kayak") || strings.Contains(g.main(), "compass") {
		t.Errorf("the packing list does not use the kit: %.600s", g.main())
	}
	kit.Set("do", "usual")
	if g := x.post(t, "/prep/kit", kit); !strings.Contains(g.main(), "The usual ones are used") {
		t.Errorf("%.300s", g.main())
	}
	for _, q := range []string{"rows=-1", "rows=5&helpers=500", "rows=5&bait=x", "rows=5&bait=90"} {
		if g := x.get(t, "/prep?"+q); g.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", q, g.status)
		}
	}
}
