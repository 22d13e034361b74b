package main

import (
	"encoding/json"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/words"
)

// english is the language of JSON and of everything another program reads.
const english = words.English

// grid is a table for reading.
type grid struct {
	a *app
	w table.Writer
}

func (a *app) table(headings ...string) *grid {
	w := table.NewWriter()
	style := table.StyleLight
	style.Format.Header = text.FormatDefault // the headings hold units: "1/h" is not "1/H"
	style.Options = table.OptionsNoBordersAndSeparators
	style.Options.SeparateHeader = true
	w.SetStyle(style)
	row := table.Row{}
	for _, h := range headings {
		row = append(row, h)
	}
	w.AppendHeader(row)
	return &grid{a, w}
}

func (g *grid) row(cells ...any) { g.w.AppendRow(cells) }

func (g *grid) print() { g.a.print(g.a.out, g.w.Render()) }

// number writes a value that may be missing, "–" when it is.
func number(m assay.Maybe[float64], format string) string {
	x, ok := m.Get()
	if !ok {
		return "–"
	}
	return words.Number(x, format)
}

// json prints a result for another program: two-space indent, a final newline.
func (a *app) json(v any) error {
	e := json.NewEncoder(a.out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

func (a *app) jsonFlag(c *cobra.Command, to *bool) {
	c.Flags().BoolVar(to, "json", false, a.say("cmd.flag.json"))
}
