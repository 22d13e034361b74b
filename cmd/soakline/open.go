package main

import (
	"path/filepath"

	"github.com/spf13/cobra"

	"soakline/internal/task"
)

func (a *app) openCmd() *cobra.Command {
	var noBrowser bool
	c := a.command("open [FILE.logbook]", a.argCount(0, 1), func(c *cobra.Command, args []string) error {
		file := ""
		if len(args) == 1 {
			file = args[0]
		}
		return a.openDesk(c, file, noBrowser)
	})
	c.Flags().BoolVar(&noBrowser, "no-browser", false, a.say("cmd.open.flag-no-browser"))
	return c
}

func (a *app) demoCmd() *cobra.Command {
	var out string
	var seed uint64
	var open, noBrowser bool
	c := a.command("demo", a.argCount(0, 0), func(c *cobra.Command, _ []string) error {
		made, err := task.MakeDemo(c.Context(), out, seed, "soakline "+Version, a.lang, a.by(""))
		if err != nil {
			return err
		}
		slug := "cmd.demo.done"
		if made.There {
			slug = "cmd.demo.there"
		}
		a.print(a.out, a.say(slug, "folder", out, "n", len(made.Files), "seed", seed))
		for _, f := range made.Files {
			a.print(a.out, "  "+filepath.Join(out, f))
		}
		if !open {
			a.print(a.out, a.say("cmd.demo.next", "file", made.Logbook))
			return nil
		}
		return a.openDesk(c, made.Logbook, noBrowser)
	})
	f := c.Flags()
	f.StringVar(&out, "out", "demo", a.say("cmd.demo.flag-out"))
	f.Uint64Var(&seed, "seed", task.DemoSeed, a.say("cmd.flag.seed"))
	f.BoolVar(&open, "open", false, a.say("cmd.demo.flag-open"))
	f.BoolVar(&noBrowser, "no-browser", false, a.say("cmd.open.flag-no-browser"))
	return c
}
