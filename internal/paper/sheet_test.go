package paper

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"soakline/internal/entry"
	"soakline/internal/figure"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// known is an invented row of which everything is known that a plan may know.
func known() Row {
	return Row{
		ID: "KELL-07", Site: "Kell Spit", Habitat: "seagrass", Team: "Tarn", Season: "summer", Names: "A. Example, B. Example",
		BaitBatch: "B3", Bearing: "45°", FirstPosition: "36.95120, -8.20340", Permit: "P-1", Date: "2026-07-01", SetOut: "09:00",
		SetOutUntil: "09:18", Baits: 25, Zone: "WEST, UTC+01:00", Emergency: "112, slip at Kell", Ashore: "C. Example, 13:00",
		Notes: "way in by the second slip; mind the oyster bank", Setting: Due{At: "09:00", From: "08:45", To: "09:30", Water: "0.9 m", Light: "from 06:12", LeaveBy: "11:20"},
		Due: []Due{{At: "10:00", From: "09:45", To: "10:15", Water: "0.8 m", LeaveBy: "11:20"},
			{At: "2026-07-02 09:00", From: "07:00", To: "11:00", Water: "0.9 to 1.1 m", Light: "until 21:04", LeaveBy: "12:05"}},
	}
}

func options(l words.Language, s Size, lv Level, per int, rows ...Row) SheetOptions {
	return SheetOptions{Lang: l, Size: s, Level: lv, PerPage: per, Protocol: sheet.Standard(), Rows: rows, Title: "t"}
}

// printed is one kind of sheet.
type printed struct {
	name  string
	o     SheetOptions
	pages []*page
	err   error
}

// everySheet is each language, size and kind of sheet, blank and known.
var everySheet = sync.OnceValue(func() (all []printed) {
	second := known()
	second.ID = "KELL-08"
	for _, l := range append(words.Languages, words.Pseudo) {
		for _, s := range Sizes {
			for _, kind := range []struct {
				lv  Level
				per int
			}{{Counts, 1}, {Stakes, 1}, {Counts, 2}, {Counts, 3}} {
				for _, rows := range [][]Row{{{ID: "R1"}, {ID: "R2"}}, {known(), second}, {{}, {}}} {
					o := options(l, s, kind.lv, kind.per, rows...)
					p, err := sheetPages(o)
					all = append(all, printed{fmt.Sprintf("%s-%s-%s-%d-%s", l, s.Name, kind.lv, kind.per, rows[0].ID), o, p, err})
				}
			}
		}
	}
	return all
})

func eachSheet(t *testing.T, f func(name string, o SheetOptions, pages []*page)) {
	t.Helper()
	for _, x := range everySheet() {
		if x.err != nil {
			t.Errorf("%s: %v", x.name, x.err)
			continue
		}
		f(x.name, x.o, x.pages)
	}
}

func TestSheetsAreWhole(t *testing.T) {
	eachSheet(t, func(name string, o SheetOptions, pages []*page) {
		if o.Lang == words.Pseudo {
			return // a third longer than any language; see TestNoStrayStrings
		}
		for i, p := range pages {
			if p.Err != nil {
				t.Errorf("%s page %d: %v", name, i+1, p.Err)
			}
			whole(t, fmt.Sprintf("%s page %d", name, i+1), p)
		}
		if o.Level == Counts && o.PerPage == 1 && len(pages) != len(o.Rows) {
			t.Errorf("%s: %d pages for %d rows", name, len(pages), len(o.Rows))
		}
	})
}

// TestHalfASheetTells: torn across, each half of a sheet of one row, and each
// half of a strip, still says in letters and as a code which row it is.
func TestHalfASheetTells(t *testing.T) {
	eachSheet(t, func(name string, o SheetOptions, pages []*page) {
		if o.Rows[0].ID == "" {
			return
		}
		for i, p := range pages {
			r := record(p)
			for n, row := range o.Rows {
				if o.PerPage == 1 && i/(len(pages)/len(o.Rows)) != n {
					continue
				}
				want := o.Lang.Say("paper.row", words.P{"id": row.ID})
				var letters, codes extent
				for _, x := range r.texts {
					if x.S == want {
						letters.add(0, x.Y, 0)
					}
				}
				for _, rings := range r.areas {
					if len(rings) < 50 {
						continue // a mark, no code
					}
					var e extent
					e.Area(rings, figure.Fill{})
					if black, size, _ := grid(t, rings); decode(t, black, size) == row.ID {
						codes.add(0, (e.y0+e.y1)/2, 0)
					}
				}
				// Torn across halfway between the two codes, both halves still tell.
				tear := (codes.y0 + codes.y1) / 2
				least := 0.5 * (p.Size.H - 60) / float64(o.PerPage)
				if codes.y1-codes.y0 < least || letters.y0 > tear || letters.y1 < tear {
					t.Errorf("%s page %d: row %s is coded at %.0f and %.0f mm, in letters at %.0f and %.0f", name, i+1, row.ID, codes.y0, codes.y1, letters.y0, letters.y1)
				}
			}
		}
	})
}

// TestEverythingIsAskedFor: what the issue of a good field sheet lists stands on
// every sheet of one row.
func TestEverythingIsAskedFor(t *testing.T) {
	for _, lv := range []Level{Counts, Stakes} {
		pages, err := sheetPages(options(words.English, A4, lv, 1, Row{ID: "R1"}))
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		for _, p := range pages {
			for _, x := range record(p).texts {
				text += x.S + "\n"
			}
		}
		for _, want := range []string{
			"Which way is stake 1?", "position of stake 1", "position of the last stake", "watch says", "checked against", "read in the order you set",
			"present", "consumed", "not known", "not read", "Not made:", "weather", "stakes set", "stakes back, of 25", "people out", "people back",
			"emergency", "permit number", "two landmarks in line", "Nobody works alone", "allergy", "stinging", "Every stake comes back out.",
		} {
			if !strings.Contains(text, want) && !strings.Contains(strings.ReplaceAll(text, "\n", " "), want) {
				t.Errorf("%s: nothing says %q", lv, want)
			}
		}
	}
}

// TestWhatIsKnownIsPrinted: everything a plan knows of a row stands on its sheet
// in letters, and heads are counted at each of the three visits.
func TestWhatIsKnownIsPrinted(t *testing.T) {
	for _, kind := range []struct {
		lv  Level
		per int
	}{{Counts, 1}, {Stakes, 1}, {Counts, 2}} {
		r := known()
		pages, err := sheetPages(options(words.English, Letter, kind.lv, kind.per, r))
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		for _, p := range pages {
			for _, x := range record(p).texts {
				text += x.S + " "
			}
		}
		want := []string{r.ID, r.Site, r.Habitat, r.Names, r.Permit, r.Date, r.Zone, r.Emergency, r.Ashore, r.SetOut, r.SetOutUntil, r.FirstPosition,
			"11:20", "12:05", "10:00", "2026-07-02 09:00"}
		if kind.per == 1 {
			want = append(want, r.Season, r.Team, r.BaitBatch, r.Bearing, r.Notes, "08:45 to 09:30", "09:45 to 10:15", "07:00 to 11:00",
				"water 0.9 m", "water 0.8 m", "water 0.9 to 1.1 m", "light from 06:12", "light until 21:04", "leave the water by 12:05")
			if n := strings.Count(text, "people out"); n != 3 {
				t.Errorf("%s: heads are counted at %d visits", kind.lv, n)
			}
		}
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s, %d on a page: nothing says %q", kind.lv, kind.per, w)
			}
		}
	}
}

// TestStakesInOrder: a box for each stake and check, numbered from 1, the first
// on the left.
func TestStakesInOrder(t *testing.T) {
	pages, err := sheetPages(options(words.English, A4, Stakes, 1, Row{ID: "R1", Baits: 27}))
	if err != nil {
		t.Fatal(err)
	}
	at := map[string][]figure.Text{}
	for _, p := range pages {
		for _, x := range record(p).texts {
			if x.SizeMM == quietest.SizeMM {
				at[x.S] = append(at[x.S], x)
			}
		}
	}
	for n := 1; n <= 27; n++ {
		got := at[fmt.Sprint(n)]
		if len(got) != 2 {
			t.Errorf("stake %d has %d boxes, one for each of 2 checks wanted", n, len(got))
			continue
		}
		if next := at[fmt.Sprint(n+1)]; n%13 != 0 && len(next) == 2 && (next[0].X <= got[0].X || next[0].Y != got[0].Y) {
			t.Errorf("stake %d does not stand right of stake %d", n+1, n)
		}
	}
	if len(at["28"]) > 0 {
		t.Error("a row of 27 stakes has a box 28")
	}
}

func TestSameBytes(t *testing.T) {
	o := options(words.Spanish, Letter, Stakes, 1, known(), Row{ID: "Ñ-2"})
	a, err := Sheets(o)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Sheets(o)
	if err != nil || !bytes.Equal(a, b) {
		t.Errorf("the same sheets gave other bytes: %v", err)
	}
}

func TestMissingGlyphIsAnError(t *testing.T) {
	for _, r := range []Row{{ID: "R1", Site: "浜"}, {ID: "R1", Names: "Ana 🐟"}, {ID: "R🐟"}} {
		for _, per := range []int{1, 3} {
			_, err := Sheets(options(words.English, A4, Counts, per, r))
			var glyph *NoGlyph
			if per == 1 || r.Names == "" { // several rows on a page have no room for names
				if !errors.As(err, &glyph) || len(glyph.Runes) != 1 {
					t.Errorf("%+v: %v", r, err)
				}
			}
		}
	}
	// Latin, Greek and Cyrillic go through.
	if _, err := Sheets(options(words.English, A4, Counts, 1, Row{ID: "R1", Site: "Ålesund · Σύρος · Владивосток"})); err != nil {
		t.Error(err)
	}
}

// TestLongNames: they get smaller, then an ellipsis; an identifier is never cut.
func TestLongNames(t *testing.T) {
	long := strings.Repeat("a very long name of a site ", 12)
	r := known()
	r.Site, r.Habitat, r.Names, r.FirstPosition = long, long, long, long
	r.ID = "SEASON-2026-TARN-SOUND-KELL-SPIT-007"
	for _, s := range Sizes {
		for _, lv := range []Level{Counts, Stakes} {
			pages, err := sheetPages(options(words.English, s, lv, 1, r))
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range pages {
				whole(t, string(lv), p)
				if p.Err != nil {
					t.Error(p.Err)
				}
			}
			found := 0
			for _, x := range record(pages[0]).texts {
				if x.S == "Row "+r.ID {
					found++
				}
			}
			if found != 2 {
				t.Errorf("the identifier stands whole on the page %d times", found)
			}
		}
	}
}

// TestManyChecks: a schedule of six checks goes on over further pages, each
// with its row's code.
func TestManyChecks(t *testing.T) {
	o := options(words.English, Letter, Stakes, 1, Row{ID: "R1"})
	first := o.Protocol.Checks[0]
	o.Protocol.Checks = nil
	for k := 1; k <= 6; k++ {
		c := first
		c.SoakH = float64(k)
		o.Protocol.Checks = append(o.Protocol.Checks, c)
	}
	pages, err := sheetPages(o)
	if err != nil {
		t.Fatal(err)
	}
	if len(pages) < 3 {
		t.Errorf("%d pages", len(pages))
	}
	for i, p := range pages {
		whole(t, fmt.Sprint("page ", i+1), p)
		if got := len(record(p).areas); got < 2 {
			t.Errorf("page %d has %d codes", i+1, got)
		}
	}
}

// TestNoStrayStrings: in the pseudo-language every printed text comes from the
// catalogue, or is a figure, a unit or part of the record.
func TestNoStrayStrings(t *testing.T) {
	eachSheet(t, func(name string, o SheetOptions, pages []*page) {
		if o.Lang != words.Pseudo || o.Rows[0].ID != "R1" {
			return
		}
		// Wrapped and shortened texts lose their brackets: look for plain English
		// vowels instead, which the pseudo-language has none of.
		for _, p := range pages {
			for _, x := range record(p).texts {
				switch s := strings.Trim(x.S, "⟦⟧□ "); {
				case s == "m" || s == "°C" || s == "°" || s == ":" || s == "." || s == "-":
				case strings.ContainsAny(s, "aeiou") && !strings.ContainsAny(s, "áëïöü"):
					t.Errorf("%s: %q does not come from the catalogue", name, x.S)
				}
			}
		}
	})
}

// TestLook writes every kind of sheet into the folder PAPER_LOOK, for eyes.
func TestLook(t *testing.T) {
	dir := os.Getenv("PAPER_LOOK")
	if dir == "" {
		dir = t.TempDir()
	}
	eachSheet(t, func(name string, o SheetOptions, pages []*page) {
		if o.Lang == words.Pseudo {
			return
		}
		b, err := write(pages, o.Lang, name)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name+".pdf"), b, 0o644); err != nil {
			t.Fatal(err)
		}
	})
}

// TestTypedByItsNumber: the figures by which fates, reasons and sides are typed in
// stand on the paper beside them, as package entry reads them.
func TestTypedByItsNumber(t *testing.T) {
	for _, l := range words.Languages {
		pages, err := sheetPages(options(l, A4, Stakes, 1, Row{ID: "R1"}))
		if err != nil {
			t.Fatal(err)
		}
		all := map[string]bool{}
		text := ""
		for _, p := range pages {
			for _, x := range record(p).texts {
				all[x.S] = true
				text += x.S + " "
			}
		}
		for _, k := range entry.Keys {
			if !strings.Contains(text, k.Figure+" "+k.Sign+" ") {
				t.Errorf("%s: nothing says that %s is typed as %s", l, k.Sign, k.Figure)
			}
		}
		for slug, list := range map[string][]string{"paper.why.": entry.WhyNot, "paper.side.": entry.Sides} {
			for i, w := range list {
				if want := fmt.Sprintf("%d %s", i+1, l.Say(slug+w, nil)); !all[want] {
					t.Errorf("%s: no %q", l, want)
				}
			}
		}
		if !all["1 "+l.Say("paper.yes", nil)] || !all["2 "+l.Say("paper.no", nil)] {
			t.Errorf("%s: yes and no without their figures", l)
		}
	}
}
