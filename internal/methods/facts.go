package methods

import (
	"math"
	"slices"
	"sort"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/rates"
	"soakline/internal/words"
)

// Input is what was done and with what. It holds no clock.
type Input struct {
	Lang        words.Language
	Title       string
	Version     string // of the program
	Invented    bool
	Deployments []assay.Deployment
	Findings    []assay.Finding
	Protocols   map[string]assay.Protocol
	Usual       assay.Protocol // of records that name none
	UsualName   string
	Sources     []string
	Hash        string // SHA-256 of the records
	Rates       *rates.Result
	Compare     *compare.Result // nil where nothing could be compared
	Variants    []compare.Variant
	Checks      *Checks // of the model; nil where none were made
	Conf        float64
}

// Checks are the checks of the model that were made, told by who made them.
type Checks struct {
	Seasons, Refits int
	Sentences       []string // one for each check: what it says, p, and from how many seasons or orders
	Balance         []string // what coincides with what is compared, or that nothing does
	Sites           int      // left out in turn
	Turned          []string // sites without which the conclusion turns
	Runs, Distance  bool     // runs along the row, and likeness of near sites, were among them
}

// Facts are the counts that a reviewer asks for, of the rows that entered.
type Facts struct {
	Planned, SetOut, Read int
	Rows, Baits           int
	Sites                 []string
	Groups                []GroupFacts // by habitat, in byte order
	Consumed, Lost        int
	Unread                int // readings at which a bait was not read, but later
	Checks                []CheckFacts
	OffNominal            int // checks read outside the protocol's tolerance
	Readings              int // checks read
	OtherLayout           int // rows whose number of baits or spacing is not the protocol's
	Excluded              []ExcludedFacts
	Open                  int // rows with a question that nobody has answered
	Controls              map[assay.Control]int
	First, Last           assay.Moment
	BaitKinds             []string
}

// GroupFacts is one habitat of the rows that entered.
type GroupFacts struct {
	Habitat                            string
	Sites, Rows, Baits, Consumed, Lost int
}

// CheckFacts is what was read at one check number.
type CheckFacts struct {
	Check                                int
	NominalH, ToleranceH                 assay.Maybe[float64]
	Read, Off                            int
	MedianH, ShortestH, LongestH         float64
	Consumed, Lost, Unread, BaitsAtCheck int
}

// ExcludedFacts is a reason why rows did not enter.
type ExcludedFacts struct {
	Slug string
	IDs  []string
}

// FactsOf counts.
func FactsOf(in Input) Facts {
	f := Facts{Controls: map[assay.Control]int{}}
	if in.Rates == nil {
		return f
	}
	f.Planned, f.SetOut, f.Read = in.Rates.Flow.Planned, in.Rates.Flow.SetOut, in.Rates.Flow.Read
	for i := range in.Deployments {
		if d := &in.Deployments[i]; d.IsControl() && !d.IsPractice() {
			f.Controls[d.Control]++
		}
	}
	out := f.takeExcluded(in)
	sites, groups, checks := map[string]bool{}, map[string]*GroupFacts{}, map[int]*gathered{}
	groupSites := map[[2]string]bool{}
	kinds := map[string]bool{}
	for _, r := range in.Rates.Deployments {
		if out[r.DeploymentID] {
			continue
		}
		d := &in.Deployments[r.Place]
		f.Rows++
		f.Baits += r.Baits
		sites[d.Site] = true
		if d.BaitKind != "" {
			kinds[d.BaitKind] = true
		}
		f.takeTime(d)
		p := in.protocol(d)
		if d.Baits != p.Baits || d.SpacingM.Known() && math.Abs(d.SpacingM.Or(0)-p.SpacingM) > p.SpacingToleranceM {
			f.OtherLayout++
		}
		g := groups[d.Habitat]
		if g == nil {
			g = &GroupFacts{Habitat: d.Habitat}
			groups[d.Habitat] = g
		}
		g.Rows++
		g.Baits += r.Baits
		if !groupSites[[2]string{d.Habitat, d.Site}] {
			groupSites[[2]string{d.Habitat, d.Site}] = true
			g.Sites++
		}
		if n := len(r.Checks); n > 0 {
			last := r.Checks[n-1]
			f.Consumed, f.Lost = f.Consumed+last.Consumed, f.Lost+last.Lost
			g.Consumed, g.Lost = g.Consumed+last.Consumed, g.Lost+last.Lost
		}
		for _, c := range r.Checks {
			f.takeCheck(checks, c, p)
		}
	}
	f.finish(sites, groups, checks, kinds)
	f.Open = in.Rates.Flow.Asked
	return f
}

func (in *Input) protocol(d *assay.Deployment) assay.Protocol {
	if p, ok := in.Protocols[d.Protocol]; ok {
		return p
	}
	return in.Usual
}

// takeExcluded lists who did not enter, by reason, and gives their ids.
func (f *Facts) takeExcluded(in Input) map[string]bool {
	out, at := map[string]bool{}, map[string]int{}
	add := func(id, slug string) {
		i, ok := at[slug]
		if !ok {
			i = len(f.Excluded)
			at[slug] = i
			f.Excluded = append(f.Excluded, ExcludedFacts{Slug: slug})
		}
		if !slices.Contains(f.Excluded[i].IDs, id) {
			f.Excluded[i].IDs = append(f.Excluded[i].IDs, id)
		}
	}
	for _, e := range in.Rates.Excluded {
		add(e.DeploymentID, e.Slug)
	}
	if in.Compare != nil {
		for _, e := range in.Compare.Excluded {
			add(e.DeploymentID, e.Slug)
			out[e.DeploymentID] = true
		}
	}
	return out
}

func (f *Facts) takeTime(d *assay.Deployment) {
	if !d.SetOut.Known() {
		return
	}
	if !f.First.Known() || d.SetOut.At.Before(f.First.At) {
		f.First = d.SetOut
	}
	if d.SetOut.At.After(f.Last.At) {
		f.Last = d.SetOut
	}
}

type gathered struct {
	CheckFacts
	soaks []float64
}

// hourSlack keeps a soak of exactly nominal + tolerance inside it.
const hourSlack = 1e-9

func (f *Facts) takeCheck(checks map[int]*gathered, c rates.Check, p assay.Protocol) {
	k := checks[c.Check]
	if k == nil {
		k = &gathered{}
		k.Check = c.Check
		checks[c.Check] = k
	}
	k.Read++
	k.soaks = append(k.soaks, c.SoakH)
	k.Consumed, k.Lost, k.Unread, k.BaitsAtCheck = k.Consumed+c.Consumed, k.Lost+c.Lost, k.Unread+c.Unread, k.BaitsAtCheck+c.AtRisk
	f.Readings++
	f.Unread += c.Unread
	if c.Check < 1 || c.Check > len(p.Checks) {
		return
	}
	n := p.Checks[c.Check-1]
	if !k.NominalH.Known() {
		k.NominalH, k.ToleranceH = assay.Some(n.SoakH), assay.Some(n.ToleranceH)
	}
	if math.Abs(c.SoakH-n.SoakH) > n.ToleranceH+hourSlack {
		k.Off++
		f.OffNominal++
	}
}

func (f *Facts) finish(sites map[string]bool, groups map[string]*GroupFacts, checks map[int]*gathered, kinds map[string]bool) {
	for s := range sites {
		f.Sites = append(f.Sites, s)
	}
	for k := range kinds {
		f.BaitKinds = append(f.BaitKinds, k)
	}
	sort.Strings(f.Sites)
	sort.Strings(f.BaitKinds)
	for _, g := range groups {
		f.Groups = append(f.Groups, *g)
	}
	slices.SortFunc(f.Groups, func(a, b GroupFacts) int { return strings.Compare(a.Habitat, b.Habitat) })
	for _, k := range checks {
		sort.Float64s(k.soaks)
		n := len(k.soaks)
		k.ShortestH, k.LongestH, k.MedianH = k.soaks[0], k.soaks[n-1], (k.soaks[(n-1)/2]+k.soaks[n/2])/2
		f.Checks = append(f.Checks, k.CheckFacts)
	}
	slices.SortFunc(f.Checks, func(a, b CheckFacts) int { return a.Check - b.Check })
}
