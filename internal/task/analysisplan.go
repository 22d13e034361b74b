package task

import (
	"context"
	"slices"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/logbook"
	"soakline/internal/plan"
)

// PlanIn reads a plan's settings of a comparison, everything that was left open
// filled in as a comparison does by itself.
func PlanIn(p plan.Plan, o compare.Options) (plan.Plan, error) {
	o, err := o.Settled()
	if err != nil {
		return p, err
	}
	p.By, p.Link, p.Family, p.Check, p.Bands, p.Controls, p.Adjust, p.Reference = o.By, o.Link, o.Family, o.Check, o.Bands, o.Controls, o.Adjust, o.Reference
	p.Random, p.Usual = slices.Clone(o.Random), o.Random == nil
	p.Quadrature, p.Level, p.Seed = o.Quadrature, o.Level, o.Seed
	p.Bootstrap, p.Auto = o.Bootstrap, o.BootstrapAuto
	if p.Auto {
		p.Bootstrap = 0
	}
	p.Terms = nil
	for i, list := range [][]string{o.Covariates, o.Squared, o.Curves, o.Split, o.AsWords, pairsIn(o.Together), o.Profile} {
		for _, n := range list {
			p.Terms = append(p.Terms, plan.Term{Kind: plan.Kinds[i], Name: n})
		}
	}
	p.Sort()
	return p, nil
}

// pairsIn writes pairs "A,B" in one way, since either may be named first.
func pairsIn(together []string) []string {
	var out []string
	for _, t := range together {
		a, b, _ := strings.Cut(t, ",")
		pair := []string{strings.TrimSpace(a), strings.TrimSpace(b)}
		slices.Sort(pair)
		out = append(out, strings.Join(pair, ","))
	}
	return out
}

// OptionsOf is a comparison as a plan says.
func OptionsOf(p plan.Plan) compare.Options {
	o := compare.Options{By: p.By, Link: p.Link, Family: p.Family, Check: p.Check, Bands: p.Bands, Controls: p.Controls, Adjust: p.Adjust, Reference: p.Reference,
		Quadrature: p.Quadrature, Level: p.Level, Seed: p.Seed, Bootstrap: p.Bootstrap, BootstrapAuto: p.Auto}
	if !p.Usual {
		o.Random = append([]string{}, p.Random...)
	}
	for i, list := range []*[]string{&o.Covariates, &o.Squared, &o.Curves, &o.Split, &o.AsWords, &o.Together, &o.Profile} {
		for _, t := range p.Terms {
			if t.Kind == plan.Kinds[i] {
				*list = append(*list, t.Name)
			}
		}
	}
	return o
}

// Plans are the analysis plans of a logbook, the first one first, also those that
// were withdrawn, and those whose text no longer fits.
func Plans(tx *logbook.Tx) ([]plan.Kept, error) {
	var list []plan.Kept
	for r, err := range tx.Records(kindIntent) {
		if err != nil {
			return nil, err
		}
		k := plan.Kept{Text: r.Fields["text"], SHA256: r.Fields["code"], Key: r.Key, Withdrawn: r.State != logbook.Live}
		k.Plan, err = plan.Read(k.Text)
		k.Broken = err != nil || plan.Hash(k.Text) != k.SHA256
		if err := stampsOf(tx, r, &k); err != nil {
			return nil, err
		}
		list = append(list, k)
	}
	slices.SortStableFunc(list, func(a, b plan.Kept) int { return a.Written.Compare(b.Written) })
	return list, nil
}

// stampsOf reads who kept a plan, and who withdrew it, when and why.
func stampsOf(tx *logbook.Tx, r logbook.Record, k *plan.Kept) error {
	history, err := tx.History(r.Key)
	if err != nil {
		return err
	}
	for _, v := range history {
		if v.Action == logbook.Create {
			k.Who = v.Who
			if k.Broken {
				k.Written = v.When
			}
		}
		if v.State == logbook.Withdrawn {
			k.WithdrawnAt, k.WithdrawnBy, k.WithdrawnWhy = v.When, v.Who, v.Why
		}
		if v.ID == r.Head {
			break
		}
	}
	if !k.Withdrawn {
		k.WithdrawnAt, k.WithdrawnBy, k.WithdrawnWhy = time.Time{}, "", ""
	}
	return nil
}

// FindPlan is the plan that a person means: a date, or the beginning of a hash.
func FindPlan(list []plan.Kept, which string) (plan.Kept, error) {
	which = strings.TrimSpace(which)
	var fit []plan.Kept
	var known, among []string
	for _, k := range list {
		name := k.Day() + " (" + k.Short() + "…)"
		known = append(known, name)
		if which != "" && (k.Day() == which || strings.HasPrefix(k.SHA256, strings.ToLower(which))) {
			fit, among = append(fit, k), append(among, name)
		}
	}
	switch {
	case len(list) == 0:
		return plan.Kept{}, refuse("plan-none")
	case len(fit) == 0:
		return plan.Kept{}, refuse("plan-unknown", "given", which, "known", known)
	case len(fit) > 1:
		return plan.Kept{}, refuse("plan-several", "given", which, "known", among)
	}
	return fit[0], nil
}

// The plan that answers by a factor are held against; refused where there is none.
func (s *Season) CountingPlan(by string) (plan.Kept, error) {
	if !s.book {
		return plan.Kept{}, refuse("plan-logbook")
	}
	at := plan.Choose(s.Plans, by, s.setOutBefore)
	if at < 0 {
		return plan.Kept{}, refuse("plan-none")
	}
	return s.Plans[at], nil
}

// FindPlan is the plan of the season's logbook that a person means.
func (s *Season) FindPlan(which string) (plan.Kept, error) {
	if !s.book {
		return plan.Kept{}, refuse("plan-logbook")
	}
	return FindPlan(s.Plans, which)
}

// DraftPlan is a plan as it would be kept now: what is left open filled in, the
// protocol's threshold and soaks taken over, the rows counted that stand already.
func DraftPlan(tx *logbook.Tx, p plan.Plan, o compare.Options, by By) (plan.Kept, error) {
	var k plan.Kept
	p, err := PlanIn(p, o)
	if err != nil {
		return k, err
	}
	if p.Protocol == "" {
		s, err := SettingsOf(tx)
		if err != nil {
			return k, err
		}
		p.Protocol = s.Protocol
	}
	all, _, err := Protocols(tx)
	if err != nil {
		return k, err
	}
	if err := (Settings{Protocol: p.Protocol}).check(tx); err != nil {
		return k, err
	}
	takeProtocol(&p, all[p.Protocol])
	if err := checkPlan(&p); err != nil {
		return k, err
	}
	p.Written = by.When
	p.Sort()
	if p.RowsThen, err = rowsStanding(tx, p); err != nil {
		return k, err
	}
	k.Plan, k.Text, k.Who = p, p.Text(), by.Who
	k.SHA256 = plan.Hash(k.Text)
	return k, nil
}

func takeProtocol(p *plan.Plan, of assay.Protocol) {
	p.Fraction, p.Ways, p.SoaksH = of.ConsumedFraction, nil, nil
	for _, h := range of.CountsAsConsumed {
		p.Ways = append(p.Ways, string(h))
	}
	for _, c := range of.Checks {
		p.SoaksH = append(p.SoaksH, c.SoakH)
	}
	p.Sort()
}

// checkPlan refuses what cannot stand in one line, and numbers that cannot be.
func checkPlan(p *plan.Plan) error {
	values := []struct {
		what string
		list []string
	}{{"--question", []string{p.Question}}, {"--season", []string{p.Season}}, {"--by", []string{p.By}}, {"--among", p.Among}, {"--reference", []string{p.Reference}},
		{"--leave-out", p.LeaveOut}, {"--note", p.Notes}, {"--random", p.Random}}
	for _, t := range p.Terms {
		values = append(values, struct {
			what string
			list []string
		}{"--" + t.Kind, []string{t.Name}})
	}
	for _, x := range values {
		for _, v := range x.list {
			if !plan.Line(v) || v == "" && len(x.list) > 1 {
				return refuse("plan-line", "what", x.what, "given", v)
			}
		}
	}
	for what, n := range map[string]int{"--sites": p.Sites, "--rows": p.Rows, "--baits": p.Baits} {
		if n < 0 {
			return refuse("plan-number", "what", what, "given", n)
		}
	}
	return nil
}

// rowsStanding counts the rows of a plan's season that were set out or read by the
// time it is written.
func rowsStanding(tx *logbook.Tx, p plan.Plan) (n int, err error) {
	err = live(tx, kindDeployment, func(r logbook.Record) error {
		d := entryOf(r).Deployment
		if ofPlan(&d, p) && stands(&d, p.Written) {
			n++
		}
		return nil
	})
	return n, err
}

// ofPlan says whether a row is one of those that a plan is about.
func ofPlan(d *assay.Deployment, p plan.Plan) bool {
	return !d.IsPractice() && (p.Season == "" || d.Season == p.Season)
}

// stands says whether a row holds data at a time: it was set out by then, or read,
// whatever its dates say.
func stands(d *assay.Deployment, at time.Time) bool {
	return d.SetOut.Known() && !d.SetOut.At.After(at) || slices.ContainsFunc(d.Checks, assay.Check.Read)
}

// KeepPlan keeps an analysis plan; fresh is false where the same plan is kept
// already, whose record is then given. A plan, once kept, is never changed.
func KeepPlan(ctx context.Context, book *logbook.Book, p plan.Plan, o compare.Options, by By) (k plan.Kept, fresh bool, err error) {
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		if k, err = DraftPlan(tx, p, o, by); err != nil {
			return err
		}
		list, err := Plans(tx)
		if err != nil {
			return err
		}
		for _, old := range list {
			if !old.Withdrawn && !old.Broken && old.Same(k.Plan) {
				k = old
				return nil
			}
		}
		fresh = true
		rev, err := tx.Put(logbook.Record{Kind: kindIntent, Fields: map[string]string{"code": k.SHA256, "text": k.Text}}, by.stamp())
		k.Key = rev.Record
		return err
	})
	return k, fresh, err
}

// WithdrawPlan takes a plan back, or with back the withdrawal; either needs a
// reason, and the plan stays.
func WithdrawPlan(ctx context.Context, book *logbook.Book, which string, back bool, by By) (k plan.Kept, err error) {
	if strings.TrimSpace(by.Why) == "" {
		return k, refuse("why-missing")
	}
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		list, err := Plans(tx)
		if err != nil {
			return err
		}
		if k, err = FindPlan(list, which); err != nil {
			return err
		}
		switch {
		case !back && k.Withdrawn:
			return refuse("plan-is-withdrawn", "date", k.Day(), "hash", k.Short())
		case back && !k.Withdrawn:
			return refuse("plan-not-withdrawn", "date", k.Day(), "hash", k.Short())
		case back:
			_, err = tx.Reinstate(k.Key, by.stamp())
		default:
			_, err = tx.Withdraw(k.Key, by.stamp())
		}
		return err
	})
	return k, err
}
