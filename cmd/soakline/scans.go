package main

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/logbook"
	"soakline/internal/report"
	"soakline/internal/task"
)

func (a *app) scansCmd() *cobra.Command {
	return a.groupCmd("scans", a.scansListCmd(), a.scansAddCmd(), a.scansOutCmd())
}

// scanJSON is one photo or scan of a sheet.
type scanJSON struct {
	ID     string `json:"deployment_id"`
	Name   string `json:"file"`
	Format string `json:"format"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
	Pages  int    `json:"pages_shown"`
	Who    string `json:"who"`
	When   string `json:"when"`
	Joined bool   `json:"row_there"`
	Gone   bool   `json:"redacted"`
}

// scansOf lists those of a logbook, or of one row of it.
func (a *app) scansOf(c *cobra.Command, book *logbook.Book, id string) (list []task.Scan, err error) {
	err = book.View(c.Context(), func(tx *logbook.Tx) error {
		all, err := task.Scans(tx)
		for _, s := range all {
			if id == "" || s.ID == id || s.Record == id {
				list = append(list, s)
			}
		}
		return err
	})
	return list, err
}

func (a *app) scansListCmd() *cobra.Command {
	var asJSON bool
	c := a.commandAs("scans.list", "list FILE.logbook [ID]", a.argCount(1, 2), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], true, func(book *logbook.Book) error {
			list, err := a.scansOf(c, book, strings.Join(args[1:], ""))
			if err != nil {
				return err
			}
			out := []scanJSON{}
			for _, s := range list {
				out = append(out, scanJSON{s.ID, s.Name, string(s.Kind), s.Bytes, s.Source, s.Pages, s.Who, s.When.UTC().Format("2006-01-02T15:04:05Z"), s.Record != "", s.Gone})
			}
			if asJSON {
				return a.json(struct {
					Contract int        `json:"contract"`
					Scans    []scanJSON `json:"scans"`
				}{1, out})
			}
			if len(out) == 0 {
				a.print(a.out, a.say("cmd.scans.none"))
				return nil
			}
			t := a.table(a.say("cmd.scans.col-row"), a.say("cmd.scans.col-file"), a.say("cmd.scans.col-pages"), a.say("cmd.scans.col-who"), a.say("cmd.scans.col-when"))
			for _, s := range out {
				id := s.ID
				if !s.Joined {
					id += " " + a.say("cmd.scans.waits")
				}
				t.row(id, s.Name, s.Pages, s.Who, s.When)
			}
			t.print()
			return nil
		})
	})
	a.jsonFlag(c, &asJSON)
	return c
}

func (a *app) scansAddCmd() *cobra.Command {
	return a.commandAs("scans.add", "add FILE.logbook ID PICTURE…", a.argCount(3, -1), func(c *cobra.Command, args []string) error {
		var data [][]byte
		for _, name := range args[2:] { // all can be read, or none is kept
			b, err := os.ReadFile(name)
			if err != nil {
				return err
			}
			data = append(data, b)
		}
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			for i, name := range args[2:] {
				s, err := task.AddScan(c.Context(), book, args[1], name, data[i], a.by(a.say("web.why.scan")))
				if err != nil {
					return a.atFile(name, err)
				}
				slug := "web.done.scan"
				if s.Pages == 0 {
					slug = "web.done.scan-unseen"
				}
				a.print(a.out, a.say(slug, "name", s.Name, "id", s.ID))
			}
			return nil
		})
	})
}

// atFile puts a file's name before what was refused about it.
func (a *app) atFile(name string, err error) error {
	if r, ok := err.(*task.Refused); ok {
		return &task.Refused{Slug: "cmd.scans.at-file", With: map[string]any{"file": name, "said": a.say(r.Slug, flat(r.With)...)}}
	}
	return err
}

func flat(with map[string]any) (pairs []any) {
	for k, v := range with {
		pairs = append(pairs, k, v)
	}
	return pairs
}

func (a *app) scansOutCmd() *cobra.Command {
	var folder string
	c := a.commandAs("scans.out", "out FILE.logbook ID", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], true, func(book *logbook.Book) error {
			list, err := a.scansOf(c, book, args[1])
			if err != nil {
				return err
			}
			if len(list) == 0 {
				return &task.Refused{Slug: "cmd.scans.none-of", With: map[string]any{"id": args[1]}}
			}
			if err := os.MkdirAll(folder, 0o755); err != nil {
				return err
			}
			n := 0
			for k, s := range list {
				pages, s, err := task.ScanPages(c.Context(), book, s.Key)
				if err != nil {
					return err
				}
				if len(pages) == 0 {
					a.print(a.err, a.say("cmd.scans.unseen", "file", s.Name))
				}
				for i, p := range pages {
					name := safeName(s.ID) + "-" + strconv.Itoa(k+1) + "-" + strconv.Itoa(i+1) + "." + map[string]string{"jpeg": "jpg", "png": "png"}[string(p.Kind)]
					if err := report.WriteBeside(filepath.Join(folder, name), p.Data); err != nil {
						return err
					}
					n++
				}
			}
			a.print(a.out, a.say("cmd.scans.out.done", "n", n, "folder", folder))
			return nil
		})
	})
	c.Flags().StringVar(&folder, "out", "scans", a.say("cmd.scans.out.flag-out"))
	return c
}

// safeName is an identifier in letters that every file system takes.
func safeName(id string) string {
	return strings.Map(func(r rune) rune {
		if r == '-' || r == '_' || r == '.' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r > 127 {
			return r
		}
		return '_'
	}, id)
}
