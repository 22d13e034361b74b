package main

import (
	"os"
	"sort"
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/task"
)

func (a *app) habitatCmd() *cobra.Command {
	var also []string
	var asJSON bool
	set := a.commandAs("habitat.set", "set FILE.logbook NAME", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			if err := task.AddHabitat(c.Context(), book, args[1], also, a.by("")); err != nil {
				return err
			}
			a.print(a.out, a.say("cmd.habitat.set-done", "habitat", args[1]))
			return nil
		})
	})
	set.Flags().StringArrayVar(&also, "also", nil, a.say("cmd.site.flag-also"))
	list := a.commandAs("habitat.list", "list FILE.logbook", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], true, func(book *logbook.Book) error {
			var habitats []task.Habitat
			err := book.View(c.Context(), func(tx *logbook.Tx) (err error) {
				habitats, err = task.Habitats(tx)
				return err
			})
			if err != nil {
				return err
			}
			if asJSON {
				return a.json(habitatListOf(habitats))
			}
			t := a.table(a.say("cmd.habitat.col-name"), a.say("cmd.site.col-synonyms"))
			for _, h := range habitats {
				t.row(h.Name, strings.Join(h.Synonyms, ", "))
			}
			t.print()
			return nil
		})
	})
	a.jsonFlag(list, &asJSON)
	return a.groupCmd("habitat", list, set)
}

type habitatJSON struct {
	Habitat  string   `json:"habitat"`
	Synonyms []string `json:"synonyms"`
}

func habitatListOf(habitats []task.Habitat) any {
	list := []habitatJSON{}
	for _, h := range habitats {
		list = append(list, habitatJSON{h.Name, append([]string{}, h.Synonyms...)})
	}
	return struct {
		Contract int           `json:"contract"`
		Habitats []habitatJSON `json:"habitats"`
	}{1, list}
}

func (a *app) protocolCmd() *cobra.Command {
	return a.groupCmd("protocol", a.protocolListCmd(), a.protocolShowCmd(), a.protocolNewCmd())
}

// protocolsOf are the program's protocols and those of the logbook, if one is named.
func (a *app) protocolsOf(c *cobra.Command, paths []string) (all map[string]assay.Protocol, texts map[string]string, err error) {
	if len(paths) == 0 {
		return task.Protocols(nil)
	}
	err = a.withBook(c, paths[0], true, func(book *logbook.Book) error {
		return book.View(c.Context(), func(tx *logbook.Tx) (err error) {
			all, texts, err = task.Protocols(tx)
			return err
		})
	})
	return all, texts, err
}

func (a *app) protocolListCmd() *cobra.Command {
	var asJSON bool
	c := a.commandAs("protocol.list", "list [FILE.logbook]", a.argCount(0, 1), func(c *cobra.Command, args []string) error {
		all, _, err := a.protocolsOf(c, args)
		if err != nil {
			return err
		}
		var names []string
		for n := range all {
			names = append(names, n)
		}
		sort.Strings(names)
		if asJSON {
			return a.json(protocolListOf(names, all))
		}
		t := a.table(a.say("cmd.protocol.col-name"), a.say("cmd.protocol.col-title"))
		for _, n := range names {
			t.row(n, all[n].Title)
		}
		t.print()
		return nil
	})
	a.jsonFlag(c, &asJSON)
	return c
}

type protocolJSON struct {
	Protocol string `json:"protocol"`
	Title    string `json:"title"`
}

func protocolListOf(names []string, all map[string]assay.Protocol) any {
	list := []protocolJSON{}
	for _, n := range names {
		list = append(list, protocolJSON{n, all[n].Title})
	}
	return struct {
		Contract  int            `json:"contract"`
		Protocols []protocolJSON `json:"protocols"`
	}{1, list}
}

func (a *app) protocolShowCmd() *cobra.Command {
	return a.commandAs("protocol.show", "show NAME [FILE.logbook]", a.argCount(1, 2), func(c *cobra.Command, args []string) error {
		_, texts, err := a.protocolsOf(c, args[1:])
		if err != nil {
			return err
		}
		text, ok := texts[args[0]]
		if !ok {
			return a.usage(c, "cmd.protocol.unknown", "protocol", args[0])
		}
		a.print(a.out, strings.TrimRight(text, "\n"))
		return nil
	})
}

func (a *app) protocolNewCmd() *cobra.Command {
	return a.commandAs("protocol.new", "new FILE.logbook PROTOCOL.toml", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		text, err := os.ReadFile(args[1])
		if err != nil {
			return err
		}
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			name, err := task.NewProtocol(c.Context(), book, string(text), a.by(""))
			if err != nil {
				return err
			}
			a.print(a.out, a.say("cmd.protocol.new-done", "protocol", name))
			return nil
		})
	})
}
