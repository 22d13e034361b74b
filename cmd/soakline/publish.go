package main

import (
	"errors"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"soakline/internal/logbook"
	"soakline/internal/publish"
	"soakline/internal/task"
	"soakline/internal/words"
)

func (a *app) publishCmd() *cobra.Command {
	var r reading
	var o task.PublishOptions
	var asJSON, preview bool
	var out string
	var creator publish.Party
	c := a.command("publish SOURCE… --out DIR", a.argCount(1, -1), func(c *cobra.Command, args []string) error {
		if out == "" && !preview {
			return a.usage(c, "cmd.publish.no-out")
		}
		if creator != (publish.Party{}) {
			o.Metadata.Creator = []publish.Party{creator}
		}
		s, err := a.load(c, args, r)
		if err != nil {
			return err
		}
		if err := a.reasons(c, args, &o); err != nil {
			return err
		}
		o.Today, o.Version = a.now(), Version
		if preview {
			return a.publishPreview(s, o, asJSON)
		}
		done := a.progress(&o.Progress, "cmd.publish.progress")
		result, err := task.Publish(c.Context(), s, out, o)
		done()
		if err != nil {
			return a.unpublished(err)
		}
		if asJSON {
			return a.json(result)
		}
		a.printPublished(out, result)
		return nil
	})
	a.readingFlags(c, &r)
	a.jsonFlag(c, &asJSON)
	f := c.Flags()
	f.StringVar(&out, "out", "", a.say("cmd.publish.flag-out"))
	f.BoolVar(&preview, "preview", false, a.say("cmd.publish.flag-preview"))
	a.metadataFlags(f, &o, &creator)
	return c
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

// reasons reads why records changed, where a release before is given.
func (a *app) reasons(c *cobra.Command, args []string, o *task.PublishOptions) error {
	if o.Previous == "" {
		return nil
	}
	if is, err := task.IsLogbook(args[0]); err != nil || !is {
		return err
	}
	return a.withBook(c, args[0], true, func(book *logbook.Book) (err error) {
		o.Why, err = task.Reasons(c.Context(), book)
		return err
	})
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

func (a *app) printPublished(out string, r *publish.Result) {
	a.print(a.out, a.say("cmd.publish.done", "dir", out, "n", r.Deployments, "events", r.Events, "occurrences", r.Occurrences, "measurements", r.Measurements))
	for _, f := range r.Files {
		a.print(a.out, "  "+f.Path)
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

// publishPreview prints what a reviewer would refuse or flag.
func (a *app) publishPreview(s *task.Season, o task.PublishOptions, asJSON bool) error {
	in, err := task.PublishInput(s, o)
	if err != nil {
		return a.unpublished(err)
	}
	p, err := publish.Review(*in)
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
