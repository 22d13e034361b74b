package main

import (
	"cmp"
	"errors"
	"os"
	"runtime/debug"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"soakline/internal/logbook"
	"soakline/internal/publish"
	"soakline/internal/task"
	"soakline/internal/words"
)

// publishFlags are what the verb is asked for.
type publishFlags struct {
	out           string
	preview, json bool
	freeze, list  bool
	keep, show    bool
	release       int
	reading       reading
	creator       publish.Party
	options       task.PublishOptions
}

func (a *app) publishCmd() *cobra.Command {
	var f publishFlags
	c := a.command("publish SOURCE… --out DIR", a.argCount(1, -1), func(c *cobra.Command, args []string) error {
		if f.out == "" && !f.preview && !f.list && !f.keep && !f.show {
			return a.usage(c, "cmd.publish.no-out")
		}
		if f.creator != (publish.Party{}) {
			f.options.Metadata.Creator = []publish.Party{f.creator}
		}
		f.options.Today, f.options.Version = a.now(), Version
		is, err := task.IsLogbook(args[0])
		switch {
		case err == nil && is && len(args) == 1:
			return a.publishBook(c, args[0], &f)
		case f.freeze, f.list, f.keep, f.show, f.release > 0:
			return a.usage(c, "cmd.publish.only-logbook")
		}
		s, err := a.load(c, args, f.reading)
		if err != nil {
			return err
		}
		if f.preview {
			in, err := task.PublishInput(s, f.options)
			if err != nil {
				return a.unpublished(err)
			}
			p, err := publish.Review(*in)
			return a.previewed(p, err, f.json)
		}
		done := a.progress(&f.options.Progress, "cmd.publish.progress")
		result, err := task.Publish(c.Context(), s, f.out, f.options)
		done()
		return a.published(f.out, result, err, f.json)
	})
	a.readingFlags(c, &f.reading)
	a.jsonFlag(c, &f.json)
	l := c.Flags()
	l.StringVar(&f.out, "out", "", a.say("cmd.publish.flag-out"))
	l.BoolVar(&f.preview, "preview", false, a.say("cmd.publish.flag-preview"))
	l.BoolVar(&f.freeze, "freeze", false, a.say("cmd.publish.flag-freeze"))
	l.IntVar(&f.release, "release", 0, a.say("cmd.publish.flag-release"))
	l.BoolVar(&f.list, "releases", false, a.say("cmd.publish.flag-releases"))
	l.BoolVar(&f.keep, "keep", false, a.say("cmd.publish.flag-keep"))
	l.BoolVar(&f.show, "show", false, a.say("cmd.publish.flag-show"))
	a.metadataFlags(l, &f.options, &f.creator)
	return c
}

// What the program may take while it publishes, in bytes: a part that is always
// there, and a part for each row.
const (
	memoryAlways = 64 << 20
	memoryPerRow = 3300
	// Up to fittedRows the model is fitted and a workbook written, which take what
	// they take.
	fittedRows = 20_000
)

// thrifty keeps memory near what so many rows need, at the price of some more
// work, until the function it gives is called: a hundred thousand rows are
// published in half a gigabyte. GOGC and GOMEMLIMIT, where they are set, win.
func thrifty(rows int) func() {
	if rows <= fittedRows || os.Getenv("GOGC") != "" || os.Getenv("GOMEMLIMIT") != "" {
		return func() {}
	}
	before := debug.SetMemoryLimit(memoryAlways + int64(rows)*memoryPerRow)
	return func() { debug.SetMemoryLimit(before) }
}

// publishBook publishes a logbook, which also keeps what is said of it and the
// releases that were made.
func (a *app) publishBook(c *cobra.Command, path string, f *publishFlags) error {
	return a.withBook(c, path, !f.freeze && !f.keep, func(book *logbook.Book) error {
		rows, err := task.HowMany(c.Context(), book)
		if err != nil {
			return err
		}
		defer thrifty(rows)()
		if f.keep {
			if err := task.KeepPublication(c.Context(), book, f.options, a.by("")); err != nil {
				return a.unpublished(err)
			}
			a.print(a.err, a.say("cmd.publish.kept"))
		}
		switch {
		case f.list:
			return a.releases(c, book)
		case f.show:
			text, err := task.KeptMetadata(c.Context(), book)
			if err != nil {
				return err
			}
			_, err = a.out.Write(text)
			return err
		case f.preview:
			p, err := task.PreviewBook(c.Context(), book, f.options)
			return a.previewed(p, err, f.json)
		case f.out == "":
			return nil
		}
		done := a.progress(&f.options.Progress, "cmd.publish.progress")
		var result *publish.Result
		switch {
		case f.release > 0:
			result, err = task.Remake(c.Context(), book, f.release, f.out, f.options)
		case f.freeze:
			result, err = task.Freeze(c.Context(), book, f.out, f.options, a.by(""))
		default:
			result, err = task.PublishBook(c.Context(), book, f.out, f.options)
		}
		done()
		return a.published(f.out, result, err, f.json)
	})
}

// releases lists the releases that a logbook keeps.
func (a *app) releases(c *cobra.Command, book *logbook.Book) error {
	var list []task.Release
	err := book.View(c.Context(), func(tx *logbook.Tx) (err error) {
		list, err = task.Releases(tx)
		return err
	})
	if err != nil {
		return err
	}
	if len(list) == 0 {
		a.print(a.out, a.say("cmd.publish.no-releases"))
	}
	for _, r := range list {
		a.print(a.out, a.say("cmd.publish.release", "n", r.Number, "date", r.Date, "version", cmp.Or(r.Version, "–"), "rows", r.Rows,
			"added", r.Added, "corrected", r.Corrected, "withdrawn", r.Withdrawn, "who", r.MadeBy, "title", r.Title))
	}
	return nil
}

func (a *app) metadataFlags(f *pflag.FlagSet, o *task.PublishOptions, creator *publish.Party) {
	m := &o.Metadata
	for _, x := range []struct {
		to   *string
		name string
	}{
		{&o.File, "metadata"}, {&m.Title, "title"}, {&m.Licence, "licence"}, {&m.Abstract, "abstract"}, {&m.Publisher, "publisher"},
		{&m.Contact.Name, "contact-name"}, {&m.Contact.Email, "contact-email"}, {&creator.Name, "creator-name"}, {&creator.ORCID, "creator-orcid"},
		{&m.DatasetID, "dataset-id"}, {&m.Date, "date"}, {&m.Version, "data-version"}, {&o.Previous, "previous"},
	} {
		f.StringVar(x.to, x.name, "", a.say("cmd.publish.flag-"+x.name))
	}
	f.BoolVar(&o.LeaveOutBlocked, "leave-out-blocked", false, a.say("cmd.publish.flag-leave-out-blocked"))
}

// unpublished tells why nothing was written.
func (a *app) unpublished(err error) error {
	var missing *publish.Missing
	var blocked *publish.Blocked
	var refused *publish.Refused
	switch {
	case errors.As(err, &missing):
		for _, m := range missing.Items {
			a.print(a.err, a.say("publish.missing", "what", words.Ref{Slug: m.Slug}, "flag", m.Flag))
		}
		return exit{exitUsage}
	case errors.As(err, &blocked):
		for _, f := range blocked.Findings {
			a.print(a.err, a.finding(f))
		}
		a.print(a.err, a.say("cmd.publish.blocked", "n", len(blocked.Findings)))
		return exit{exitUnmet}
	case errors.As(err, &refused):
		a.print(a.err, a.lang.Say(refused.Slug, refused.With))
		return exit{exitUsage}
	}
	return err
}

// published tells what was written, or why nothing was.
func (a *app) published(out string, r *publish.Result, err error, asJSON bool) error {
	if err != nil {
		return a.unpublished(err)
	}
	if asJSON {
		return a.json(r)
	}
	a.printPublished(out, r)
	return nil
}

func (a *app) printPublished(out string, r *publish.Result) {
	a.print(a.out, a.say("cmd.publish.done", "dir", out, "n", r.Deployments, "events", r.Events, "occurrences", r.Occurrences, "measurements", r.Measurements))
	for _, f := range r.Files {
		a.print(a.out, "  "+f.Path)
	}
	if r.Release > 0 {
		a.print(a.out, a.say("cmd.publish.is-release", "n", r.Release))
	}
	a.printLeft(r.LeftOut)
	for _, m := range r.Messages {
		a.print(a.out, m.In(a.lang))
	}
}

func (a *app) printLeft(list []publish.LeftOut) {
	for _, l := range list {
		slug := l.Slug
		if !words.Has(slug) {
			slug = "finding." + slug
		}
		a.print(a.out, a.say("cmd.publish.left", "id", l.DeploymentID, "why", words.Ref{Slug: slug, With: l.With}))
	}
}

// previewed prints what a reviewer would refuse or flag.
func (a *app) previewed(p *publish.Preview, err error, asJSON bool) error {
	if err != nil {
		return a.unpublished(err)
	}
	if asJSON {
		if err := a.json(p); err != nil {
			return err
		}
	} else {
		for _, f := range p.Flags {
			a.print(a.out, a.say("cmd.publish."+string(f.Effect), "text", words.Ref{Slug: "publish.review-" + f.Slug, With: f.With})+" ["+f.Slug+"]")
		}
		a.printLeft(p.LeftOut)
		for _, m := range p.Messages {
			a.print(a.out, m.In(a.lang))
		}
		a.print(a.out, a.say("cmd.publish.previewed", "n", len(p.Flags), "rows", p.Deployments))
	}
	if p.Refused() {
		return exit{exitUnmet}
	}
	return nil
}
