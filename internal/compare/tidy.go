package compare

import (
	"context"
	"fmt"
	"slices"

	"soakline/internal/assay"
	"soakline/internal/mixed"
	"soakline/internal/words"
)

// Observation is one line of the frame in the form that general-purpose
// packages take: of AtRisk baits present after FromH hours, Consumed were gone
// after ToH.
type Observation struct {
	DeploymentID  string
	Key           string // identity of the row; DeploymentID where a record has none
	Site, Habitat string
	Level         string            // of the factor
	Values        map[string]string // of the covariates, as written
	Check         int
	FromH, ToH    float64
	AtRisk        int
	Consumed      int
	X             []float64 // the design, one a term
	Groups        []int     // number of the group, one a random intercept
	// AtLimit: at the bound of a term without a finite maximum the line has
	// likelihood 1, so the others are estimated without it.
	AtLimit bool
}

// Refit is a comparison with one effect for each check, and the frame on which
// another program can fit it again.
type Refit struct {
	Result     *Result
	Lines      []Observation
	Terms      []string // of X
	Groups     []string // of Observation.Groups
	Covariates []string
	Tested     []string // terms that the likelihood-ratio test leaves out
	// Controls says that the comparison subtracts control rows, which this one
	// leaves out.
	Controls bool
	Asked    Options // what the comparison itself does
	Fitted   bool    // false for the frame alone, as FrameOnly gives it
}

// ForRefit fits the comparison as general-purpose packages can: one effect for
// each check with the log of the interval's length as offset (with the logit
// link none), Laplace's approximation, control rows left out, nothing repeated.
func ForRefit(ctx context.Context, ds []assay.Deployment, o Options) (*Refit, error) {
	out, f, err := frameFor(ds, o)
	if err != nil || len(out.Lines) == 0 {
		return out, err
	}
	data, err := f.data()
	if err != nil {
		return nil, err
	}
	fit, err := mixed.Fit(data, f.modelOptions())
	if err != nil {
		return nil, err
	}
	f.tell(fit)
	f.fill(out.Result, fit)
	if err := f.test(ctx, out.Result, fit); err != nil {
		return nil, err
	}
	out.Fitted, out.Result.Messages = true, f.messages
	for i, at := range fit.AtLimit() {
		out.Lines[i].AtLimit = at
	}
	return out, ctx.Err()
}

// FrameOnly is ForRefit without the fit.
func FrameOnly(ds []assay.Deployment, o Options) (*Refit, error) {
	out, f, err := frameFor(ds, o)
	if err != nil {
		return nil, err
	}
	for _, g := range f.random {
		out.Result.Random = append(out.Result.Random, Spread{Group: g})
	}
	for _, t := range f.terms {
		out.Result.Fixed = append(out.Result.Fixed, Term{Term: t})
	}
	return out, nil
}

// frameFor is the frame with one effect for each check.
func frameFor(ds []assay.Deployment, o Options) (*Refit, *frame, error) {
	asked, err := o.withDefaults()
	if err != nil {
		return nil, nil, err
	}
	o = asked
	o.NoRepeat, o.Bootstrap, o.BootstrapAuto, o.Quadrature, o.Controls, o.Bands, o.Adjust = true, 0, false, 0, "leave-out", "checks", "none"
	f, err := build(ds, o)
	if err != nil {
		return nil, nil, err
	}
	f.repeated = true // whether Laplace's approximation will do is the comparison's to tell
	out := &Refit{Result: f.result(), Terms: f.terms, Groups: slices.Concat(f.random, f.crossed), Covariates: o.covariates(), Controls: asked.Controls == "subtract", Asked: asked}
	if len(f.spans) == 0 || len(f.levels) == 0 {
		f.say("nothing-to-compare")
		out.Result.Ending, out.Result.Messages = string(mixed.NoTrials), f.messages
		return out, f, nil
	}
	if len(f.levels) > 1 {
		out.Tested = f.factorTerms()
	}
	return out, f, f.tidy(out)
}

// tidy writes the spans as lines.
func (f *frame) tidy(out *Refit) error {
	groups := f.groups()
	for _, s := range f.spans {
		r := f.rows[s.row]
		k := slices.Index(f.bands, s.check)
		if f.o.Check > 0 {
			k = 0
		}
		pieces := f.pieces(nil, r, k, s.toH-s.fromH)
		if len(pieces) != 1 || len(s.late) > 0 {
			return fmt.Errorf("row %s: an interval of several stretches where each check has an effect of its own", r.d.ID)
		}
		line := Observation{DeploymentID: r.d.ID, Key: r.d.Key, Site: r.d.Site, Habitat: r.d.Habitat, Level: f.levels[r.level], Values: map[string]string{},
			Check: s.check, FromH: s.fromH, ToH: s.toH, AtRisk: s.atRisk, Consumed: s.consumed, X: pieces[0].X, Groups: groups[s.row]}
		if line.Key == "" {
			line.Key = line.DeploymentID
		}
		for _, name := range out.Covariates {
			line.Values[name] = value(r.d, name)
		}
		out.Lines = append(out.Lines, line)
	}
	return nil
}

// Aliased are the terms that cannot be told from others and are not in the fit.
func (r *Refit) Aliased() []string {
	var out []string
	for _, m := range r.Result.Messages {
		if m.Slug == "aliased" || m.Slug == "aliased-constant" {
			if t, ok := m.With["term"].(string); ok {
				out = append(out, t)
			}
		}
	}
	return out
}

// Has says whether the comparison told a message.
func (r *Result) Has(slug string) bool {
	return slices.ContainsFunc(r.Messages, func(m words.Message) bool { return m.Slug == slug })
}
