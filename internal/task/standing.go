package task

import (
	"maps"
	"slices"
	"strconv"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/plan"
	"soakline/internal/words"
)

// Beside is what stands beside a comparison.
type Beside struct{ Repeats, Closer bool }

// setOutBefore counts the rows of a plan that were set out before it was written,
// as they are known now.
func (s *Season) setOutBefore(p plan.Plan) int {
	n := 0
	for i := range s.Deployments {
		d := &s.Deployments[i]
		if ofPlan(d, p) && d.SetOut.Known() && !d.SetOut.At.After(p.Written) {
			n++
		}
	}
	return n
}

// Stand holds a comparison, and what stands beside it, against the plan that counts
// for it. A season from files has no plans and leaves the result as it is.
func (s *Season) Stand(o compare.Options, k *compare.Result, b Beside) {
	if !s.book || k == nil {
		return
	}
	at := plan.Choose(s.Plans, o.By, s.setOutBefore)
	var p plan.Plan
	if at >= 0 {
		p = s.Plans[at].Plan
	}
	done, err := s.done(p, o, k, b)
	if err != nil {
		return // what cannot be asked has no result
	}
	k.Plan = plan.Stand(s.Plans, at, s.setOutBefore, done)
	if s.telling != nil {
		withhold(k.Plan, s.telling)
	}
}

// withhold puts a word in place of every text of a standing that tells a sensitive place.
func withhold(s *plan.Standing, tells func(string) bool) {
	hide := func(texts ...*string) {
		for _, t := range texts {
			if tells(*t) {
				*t = words.English.Say("task.withheld", nil)
			}
		}
	}
	for i := range s.Parts {
		hide(&s.Parts[i].Name, &s.Parts[i].Planned, &s.Parts[i].Done)
	}
	for i := range s.Others {
		hide(&s.Others[i].Why)
	}
}

// done is what a comparison did, to be held against a plan.
func (s *Season) done(p plan.Plan, o compare.Options, k *compare.Result, b Beside) (plan.Done, error) {
	var d plan.Done
	var err error
	if d.Plan, err = PlanIn(plan.Plan{}, o); err != nil {
		return d, err
	}
	for _, l := range k.Levels {
		d.Among = append(d.Among, l.Level)
	}
	for _, c := range k.Contrasts {
		d.Pairs = append(d.Pairs, [2]string{c.A, c.B})
	}
	for _, r := range k.Random {
		d.Used = append(d.Used, r.Group)
	}
	d.Repeats, d.Closer = b.Repeats || k.Sensitivity != nil, b.Closer
	d.Sites, d.Rows = k.Sites, k.Deployments
	s.doneRows(&d, p, k)
	for i := range s.out {
		if w := &s.out[i]; ofPlan(w, p) && (w.SetOut.Known() || slices.ContainsFunc(w.Checks, assay.Check.Read)) {
			d.OutByHand++
		}
	}
	return d, nil
}

// doneRows looks through the rows that entered: their seasons, protocols and baits.
func (s *Season) doneRows(d *plan.Done, p plan.Plan, k *compare.Result) {
	out := map[string]bool{}
	for _, e := range k.Excluded {
		out[e.DeploymentID] = true
	}
	usual := s.usualName()
	protocols, baits := map[string]int{}, map[int]bool{}
	for i := range s.Deployments {
		r := &s.Deployments[i]
		if out[r.ID] || r.IsPractice() {
			continue
		}
		name := r.Protocol
		if _, known := s.Protocols[name]; !known {
			name = usual
		}
		protocols[name]++
		baits[r.Baits] = true
		season := r.Season
		if season == "" {
			season = "–"
		}
		if !slices.Contains(d.Seasons, season) {
			d.Seasons = append(d.Seasons, season)
		}
	}
	slices.Sort(d.Seasons)
	most := p.Protocol
	for _, name := range slices.Sorted(maps.Keys(protocols)) {
		if name != p.Protocol {
			d.Others = append(d.Others, name+" ("+strconv.Itoa(protocols[name])+")")
		}
		if protocols[name] > protocols[most] {
			most = name
		}
	}
	takeProtocol(&d.Plan, s.Protocols[most])
	for n := range baits {
		d.BaitsIn = append(d.BaitsIn, n)
	}
	slices.Sort(d.BaitsIn)
}

// Only is the season with the rows of one season of the logbook alone, "" for all.
func (s *Season) Only(season string) (*Season, error) {
	if season == "" {
		return s, nil
	}
	s.DeriveLight() // what was worked out stands with the rows
	out := *s
	out.Deployments, out.hidden = nil, nil
	for i := range s.Deployments {
		if s.Deployments[i].Season == season {
			out.Deployments = append(out.Deployments, s.Deployments[i])
			if s.hidden != nil {
				out.hidden = append(out.hidden, s.hidden[i])
			}
		}
	}
	if len(out.Deployments) == 0 {
		return nil, refuse("plan-no-rows", "season", season)
	}
	keys := map[string]bool{}
	for i := range out.Deployments {
		keys[out.Deployments[i].Key] = true
	}
	out.Findings = slices.DeleteFunc(slices.Clone(s.Findings), func(f assay.Finding) bool { return f.Key != "" && !keys[f.Key] })
	return &out, nil
}
