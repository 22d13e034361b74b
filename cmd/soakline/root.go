package main

import (
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"soakline/internal/words"
)

// root is the tree of the verbs that a command line needs, all for none. Without a verb the desk opens, so that a double
// click does what a person expects.
func (a *app) root(args ...string) *cobra.Command {
	root := &cobra.Command{
		Use: "soakline", SilenceUsage: true, SilenceErrors: true, Version: Version,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return a.usage(c, "cmd.usage.verb", "verb", args[0])
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return a.openDesk(c, "", false) },
	}
	f := root.PersistentFlags()
	f.String("lang", string(a.lang), a.say("cmd.flag.lang"))
	f.StringVar(&a.who, "who", a.who, a.say("cmd.flag.who"))
	root.AddGroup(
		&cobra.Group{ID: "start", Title: a.say("cmd.group.start")},
		&cobra.Group{ID: "records", Title: a.say("cmd.group.records")},
		&cobra.Group{ID: "plan", Title: a.say("cmd.group.plan")},
		&cobra.Group{ID: "answer", Title: a.say("cmd.group.answer")},
		&cobra.Group{ID: "share", Title: a.say("cmd.group.share")},
		&cobra.Group{ID: "keep", Title: a.say("cmd.group.keep")},
	)
	for _, v := range a.called(args) {
		c := v.make()
		c.GroupID = v.group
		root.AddCommand(c)
	}
	root.SetHelpCommandGroupID("keep")
	root.SetCompletionCommandGroupID("keep")
	a.translate(root)
	return root
}

// verb is a verb of the program; it is made where it is called or told of.
type verb struct {
	group, name string
	make        func() *cobra.Command
}

func (a *app) verbs() []verb {
	return []verb{
		{"start", "demo", a.demoCmd}, {"start", "new", a.newCmd}, {"start", "open", a.openCmd},
		{"records", "import", a.importCmd}, {"records", "findings", a.findingsCmd}, {"records", "answer", a.answerCmd},
		{"records", "add", a.addCmd}, {"records", "correct", a.correctCmd}, {"records", "withdraw", a.withdrawCmd},
		{"records", "undo", a.undoCmd}, {"records", "site", a.siteCmd}, {"records", "habitat", a.habitatCmd},
		{"records", "stakes", a.stakesCmd}, {"records", "scans", a.scansCmd}, {"records", "protocol", a.protocolCmd},
		{"plan", "plan", a.planCmd}, {"plan", "sun", a.sunCmd}, {"plan", "prep", a.prepCmd}, {"plan", "packing", a.packingCmd},
		{"plan", "batch", a.batchCmd}, {"plan", "sheets", a.sheetsCmd}, {"plan", "cards", a.cardsCmd}, {"plan", "place", a.placeCmd},
		{"plan", "tide", a.tideCmd}, {"plan", "windows", a.windowsCmd},
		{"answer", "rates", a.ratesCmd}, {"answer", "compare", a.compareCmd}, {"answer", "report", a.reportCmd},
		{"share", "publish", a.publishCmd},
		{"keep", "merge", a.mergeCmd}, {"keep", "backup", a.backupCmd}, {"keep", "restore", a.restoreCmd},
		{"keep", "verify", a.verifyCmd},
	}
}

// called are the verbs to be made for a command line: the one that it begins with,
// or all, of which help, completion and a slip in a name tell.
func (a *app) called(args []string) []verb {
	all := a.verbs()
	for i, v := range all {
		if len(args) > 0 && args[0] == v.name {
			return all[i : i+1]
		}
	}
	return all
}

// command makes a verb whose help texts stand in the catalogue under its name:
// cmd.NAME.short, cmd.NAME.long and cmd.NAME.example.
func (a *app) command(use string, args cobra.PositionalArgs, run func(*cobra.Command, []string) error) *cobra.Command {
	name, _, _ := strings.Cut(use, " ")
	return a.commandAs(name, use, args, run)
}

// commandAs is command for a verb below a verb, whose slug is not its name.
func (a *app) commandAs(slug, use string, args cobra.PositionalArgs, run func(*cobra.Command, []string) error) *cobra.Command {
	return &cobra.Command{
		Use: use, Args: args, RunE: run,
		Short: a.say("cmd." + slug + ".short"), Long: a.say("cmd." + slug + ".long"),
		Example:               "  " + strings.ReplaceAll(strings.TrimSpace(words.English.Say("cmd."+slug+".example", nil)), "\n", "\n  "),
		DisableFlagsInUseLine: true,
	}
}

// group is a verb that only holds others: called bare it says so, and a
// mistyped one is a wrong call, not a silent help page.
func (a *app) groupCmd(use string, subs ...*cobra.Command) *cobra.Command {
	c := a.command(use, nil, nil)
	c.AddCommand(subs...)
	a.needsSub(c)
	return c
}

func (a *app) needsSub(c *cobra.Command) {
	c.Args = cobra.ArbitraryArgs
	c.RunE = func(c *cobra.Command, args []string) error {
		var names []string
		for _, s := range c.Commands() {
			names = append(names, s.Name())
		}
		return a.usage(c, "cmd.usage.sub", "verb", c.Name(), "subs", names)
	}
}

// choice adds a flag that takes one of a few words, with completion.
func (a *app) choice(c *cobra.Command, to *string, name string, words []string, slug string) {
	c.Flags().StringVar(to, name, words[0], a.say(slug)+": "+strings.Join(words, ", "))
	_ = c.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp))
	old := c.PreRunE
	c.PreRunE = func(c *cobra.Command, args []string) error {
		for _, w := range words {
			if *to == w {
				if old != nil {
					return old(c, args)
				}
				return nil
			}
		}
		return a.usage(c, "cmd.usage.choice", "flag", "--"+name, "given", *to, "words", words)
	}
}

// translate puts the catalogue's words into what cobra writes by itself.
func (a *app) translate(root *cobra.Command) {
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return a.usage(c, "cmd.usage.flag", "said", err.Error())
	})
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	root.SetUsageTemplate(a.usageTemplate())
	root.SetHelpTemplate(`{{with (or .Long .Short)}}{{. | trimTrailingWhitespaces}}

{{end}}{{.UsageString}}`)
	root.SetVersionTemplate("soakline {{.Version}}\n")
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		c.InitDefaultHelpFlag()
		c.InitDefaultVersionFlag()
		if f := c.Flags().Lookup("help"); f != nil {
			f.Usage = a.say("cmd.flag.help")
		}
		if f := c.Flags().Lookup("version"); f != nil {
			f.Usage = a.say("cmd.flag.version")
		}
		switch c.Name() {
		case "help":
			c.Short, c.Long = a.say("cmd.help.short"), a.say("cmd.help.short")
		case "completion":
			c.Short, c.Long = a.say("cmd.completion.short"), a.say("cmd.completion.short")
			a.needsSub(c)
			for _, s := range c.Commands() {
				s.Short = a.say("cmd.completion.shell", "shell", s.Name())
				s.Flags().VisitAll(func(f *pflag.Flag) {
					if f.Name == "no-descriptions" {
						f.Usage = a.say("cmd.completion.bare")
					}
				})
			}
		}
		for _, s := range c.Commands() {
			walk(s)
		}
	}
	walk(root)
}

func (a *app) usageTemplate() string {
	t := func(slug string) string { return strings.ReplaceAll(a.say(slug), "{{", "{ {") }
	return t("cmd.help.usage") + `
  {{if .Runnable}}{{.UseLine}}{{end}}{{if .HasAvailableSubCommands}}
  {{.CommandPath}} ` + t("cmd.help.verb") + `{{end}}{{if .HasExample}}

` + t("cmd.help.examples") + `
{{.Example}}{{end}}{{if .HasAvailableSubCommands}}{{$cmds := .Commands}}{{if eq (len .Groups) 0}}

` + t("cmd.help.verbs") + `{{range $cmds}}{{if .IsAvailableCommand}}
  {{rpad .Name .NamePadding }} {{.Short}}{{end}}{{end}}{{else}}{{range $group := .Groups}}

{{.Title}}{{range $cmds}}{{if (and (eq .GroupID $group.ID) (or .IsAvailableCommand (eq .Name "help")))}}
  {{rpad .Name .NamePadding }} {{.Short}}{{end}}{{end}}{{end}}{{end}}{{end}}{{if .HasAvailableLocalFlags}}

` + t("cmd.help.flags") + `
{{.LocalFlags.FlagUsages | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableInheritedFlags}}

` + t("cmd.help.everywhere") + `
{{.InheritedFlags.FlagUsages | trimTrailingWhitespaces}}{{end}}
`
}
