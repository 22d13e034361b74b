package report

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/net/html"

	"soakline/internal/figure"
	"soakline/internal/leaf"
	"soakline/internal/rates"
	"soakline/internal/words"
)

// squeezed is a text without spaces and marks, so that line breaks do not matter.
func squeezed(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, s)
}

// TestPDFHoldsThePage: every paragraph, list item, heading and cell of the HTML
// report stands in the printed one, in both languages and sizes.
func TestPDFHoldsThePage(t *testing.T) {
	for _, l := range words.Languages {
		in := input(t, l)
		page, err := Page(in)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := html.Parse(bytes.NewReader(page))
		if err != nil {
			t.Fatal(err)
		}
		for _, size := range leaf.Sizes {
			pages, _, err := printPages(in, size, false)
			if err != nil {
				t.Fatal(err)
			}
			var all strings.Builder
			for _, p := range pages {
				for _, x := range p.Texts() {
					all.WriteString(squeezed(x.S))
				}
			}
			for _, text := range blocksOf(doc) {
				if !strings.Contains(all.String(), squeezed(text)) {
					t.Errorf("%s %s: the printed report lacks %q", l, size.Name, text)
				}
			}
		}
	}
}

// blocksOf lists the texts of a page block by block, without its drawings.
func blocksOf(n *html.Node) []string {
	var out []string
	var text func(*html.Node, *strings.Builder)
	text = func(n *html.Node, b *strings.Builder) {
		if n.Type == html.TextNode {
			b.WriteString(n.Data + " ")
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			text(c, b)
		}
	}
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		switch n.Data {
		case "svg", "style", "head":
			return
		case "p", "li", "td", "th", "caption", "h1", "h2", "h3", "dt", "dd":
			if n.Type == html.ElementNode {
				var b strings.Builder
				text(n, &b)
				out = append(out, b.String())
				return
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(n)
	return out
}

// TestPDFPages: the same bytes for the same input, no text outside the page or
// over another, no heading as the last thing on a page.
func TestPDFPages(t *testing.T) {
	headings := regexp.MustCompile(`^report\.h-`)
	for _, l := range append(words.Languages, words.Pseudo) {
		in := input(t, l)
		titles := map[string]bool{}
		for _, slug := range words.Slugs("report.") {
			if headings.MatchString(slug) {
				titles[l.Say(slug, nil)] = true
			}
		}
		for _, size := range leaf.Sizes {
			a, err := PDF(in, size)
			if err != nil {
				t.Fatal(err)
			}
			if b, _ := PDF(in, size); !bytes.Equal(a, b) {
				t.Error("the same input gave other bytes")
			}
			keep(t, "report-"+string(l)+"-"+size.Name, a)
			pages, marks, _ := printPages(in, size, true)
			if len(pages) < 3 || len(marks) != len(pages) || len(marks[0]) < 2 {
				t.Errorf("%d pages, outline %v", len(pages), marks)
			}
			for i, p := range pages {
				lowest := figure.Text{}
				for k, x := range p.Texts() {
					b := x.Box()
					if b.X < 5 || b.X+b.W > size.W-5 || b.Y < 5 || b.Y+b.H > size.H-5 {
						t.Errorf("%s %s page %d: %q leaves the page: %+v", l, size.Name, i+1, x.S, b)
					}
					if x.Y > lowest.Y && x.Y < size.H-printMarginMM {
						lowest = x
					}
					for _, y := range p.Texts()[:k] {
						if over(b, y.Box()) {
							t.Errorf("%s %s page %d: %q lies over %q", l, size.Name, i+1, x.S, y.S)
						}
					}
				}
				if titles[lowest.S] {
					t.Errorf("%s %s page %d ends with the heading %q", l, size.Name, i+1, lowest.S)
				}
			}
		}
	}
}

func over(a, b figure.Rect) bool {
	const slack = 0.05
	return a.X+slack < b.X+b.W && b.X+slack < a.X+a.W && a.Y+slack < b.Y+b.H && b.Y+slack < a.Y+a.H
}

// keep writes a page where PAPER_LOOK names a folder, to be looked at.
func keep(t *testing.T, name string, b []byte) {
	dir := os.Getenv("PAPER_LOOK")
	if dir == "" {
		return
	}
	if err := os.WriteFile(filepath.Join(dir, name+".pdf"), b, 0o644); err != nil {
		t.Error(err)
	}
}

// TestMissingGlyphNamesTheRow: a name in Greek, Cyrillic and Latin prints; one
// the font lacks is an error with the letter and the row.
func TestMissingGlyphNamesTheRow(t *testing.T) {
	in := input(t, words.English)
	in.Deployments[2].Site = "Άγιος Ждановка Łódź Þingeyri"
	if _, err := PDF(in, leaf.A4); err != nil {
		t.Error(err)
	}
	in.Deployments[2].Site = "海"
	_, err := PDF(in, leaf.A4)
	var missing *leaf.NoGlyph
	if !errors.As(err, &missing) || missing.Record != in.Deployments[2].ID || string(missing.Runes) != "海" {
		t.Errorf("%v", err)
	}
}

// TestWall: one page whatever the season, with the sentence of the report, the
// groups, and counts that a hand count of the rows in the result gives.
func TestWall(t *testing.T) {
	for _, l := range append(words.Languages, words.Pseudo) {
		in := input(t, l)
		for _, size := range leaf.Sizes {
			b, err := Wall(in, size)
			if err != nil {
				t.Fatal(err)
			}
			keep(t, "wall-"+string(l)+"-"+size.Name, b)
			p, err := wallPage(in, size)
			if err != nil {
				t.Fatal(err)
			}
			all := ""
			for k, x := range p.Texts() {
				all += squeezed(x.S)
				b := x.Box()
				if b.X < 5 || b.X+b.W > size.W-5 || b.Y < 5 || b.Y+b.H > size.H-5 {
					t.Errorf("%s %s: %q leaves the page: %+v", l, size.Name, x.S, b)
				}
				for _, y := range p.Texts()[:k] {
					if over(b, y.Box()) {
						t.Errorf("%s %s: %q lies over %q", l, size.Name, x.S, y.S)
					}
				}
			}
			gone, set := 0, 0
			for _, d := range in.Rates.Deployments {
				if d.Habitat == "sand" && len(d.Checks) > 0 {
					gone += d.Checks[len(d.Checks)-1].Consumed
					set += d.Baits
				}
			}
			for _, want := range []string{Answers(l, in.Compare).Shares, l.Say("invented", nil), "sand", l.Say("wall.of", words.P{"n": gone, "of": set})} {
				if !strings.Contains(all, squeezed(want)) {
					t.Errorf("%s %s: the wall lacks %q", l, size.Name, want)
				}
			}
			if w := firstLayerTaboo.FindString(all); w != "" {
				t.Errorf("the wall says %q", w)
			}
		}
	}
	// A hundred sites are too many for a line each; the page stays one.
	in := input(t, words.English)
	in.Rates = &rates.Result{Deployments: slices.Clone(in.Rates.Deployments)}
	for i := range in.Rates.Deployments {
		in.Rates.Deployments[i].Site = fmt.Sprint("site ", i)
	}
	in.Compare = nil
	if _, err := Wall(in, leaf.Letter); err != nil {
		t.Error(err)
	}
	in.Rates = &rates.Result{}
	if _, err := Wall(in, leaf.A4); err != nil {
		t.Error(err)
	}
}
