package rates

import (
	"context"
	"maps"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"

	"soakline/internal/assay"
)

// Curve is the survival curve of one group. Clusters is the number of sites, or
// of deployments, that the band takes as independent; Cluster says which; Band
// says how it was made: resampled, small-sample, or none.
type Curve struct {
	Group       string    `json:"group"`
	Deployments int       `json:"deployments"`
	Sites       int       `json:"sites"`
	Clusters    int       `json:"clusters"`
	Cluster     string    `json:"cluster"`
	Band        Band      `json:"band"`
	Survival    []Stretch `json:"survival"`
}

// Band is how the limits of a curve were made.
type Band string

// The kinds: no band under 6 clusters, leaving out one cluster at a time under
// 20, resampling clusters from there on.
const (
	NoBand          Band = "none"
	SmallSampleBand Band = "small-sample"
	ResampledBand   Band = "resampled"
)

const (
	fewestClusters   = 6
	enoughToResample = 20
	// mostSoaks is the number of distinct soaks above which they are rounded to
	// the minute for a curve.
	mostSoaks = 2000
)

// Stretch is the share of baits still there, over soaks on which it is
// determined; the curve drops between one stretch and the next.
type Stretch struct {
	FromH    float64              `json:"from_h"`
	ToH      float64              `json:"to_h"`
	Survival float64              `json:"survival"`
	Lower    assay.Maybe[float64] `json:"lower"`
	Upper    assay.Maybe[float64] `json:"upper"`
}

// group adds the curves of all groups, by name in byte order.
func (r *Result) group(ctx context.Context, ds []assay.Deployment, in []int, readings []*reading, o *Options) error {
	members := map[string][]int{}
	for _, k := range in {
		name := ds[k].Habitat
		if o.Group == BySite {
			name = ds[k].Site
		}
		members[name] = append(members[name], k)
	}
	for _, name := range slices.Sorted(maps.Keys(members)) {
		c, p := newGroup(name, members[name], ds, readings, o.Group)
		if p == nil {
			continue
		}
		if p.rounded {
			r.tellGroup("rates-soaks-rounded", name, nil)
		}
		if err := c.fit(ctx, p, o); err != nil {
			return err
		}
		switch c.Band {
		case NoBand:
			r.tellGroup("rates-too-few-for-band", name, map[string]any{"n": c.Clusters})
		case SmallSampleBand:
			r.tellGroup("rates-band-small-sample", name, map[string]any{"n": c.Clusters})
		}
		if c.Band != NoBand && c.fewHold(p) {
			r.tellGroup(bandShort, name, map[string]any{"n": c.Clusters})
		}
		r.Groups = append(r.Groups, *c)
	}
	return nil
}

func (r *Result) tellGroup(slug, name string, with map[string]any) {
	all := map[string]any{"group": name}
	maps.Copy(all, with)
	r.Messages = append(r.Messages, Message{Slug: slug, Group: name, With: all})
}

// newGroup sorts the members into clusters: sites where some site holds several
// of them and sites are not the groups, else deployments.
func newGroup(name string, members []int, ds []assay.Deployment, readings []*reading, by Group) (*Curve, *pooled) {
	bySite := map[string][]*reading{}
	var sites []string
	for _, k := range members {
		s := ds[k].Site
		if bySite[s] == nil {
			sites = append(sites, s)
		}
		bySite[s] = append(bySite[s], readings[k])
	}
	c := &Curve{Group: name, Deployments: len(members), Sites: len(sites), Cluster: "deployment"}
	var clusters [][]*reading
	if by != BySite && len(sites) < len(members) {
		c.Cluster = "site"
		for _, s := range sites {
			clusters = append(clusters, bySite[s])
		}
	} else {
		for _, k := range members {
			clusters = append(clusters, []*reading{readings[k]})
		}
	}
	c.Clusters = len(clusters)
	p := pool(clusters, 0)
	if len(p.grid) > mostSoaks {
		p = pool(clusters, 1.0/60)
		p.rounded = true
	}
	if len(p.pairs) == 0 { // every bait was lost before it was seen again
		return c, nil
	}
	return c, p
}

// fit fills in the curve and its band.
func (c *Curve) fit(ctx context.Context, p *pooled, o *Options) error {
	all := slices.Repeat([]float64{1}, c.Clusters)
	c.Survival = p.fit(all, fullTol, &bench{}).stretches(p.grid)
	c.Band = NoBand
	if c.Clusters < fewestClusters {
		return nil
	}
	var replicates [][]float64
	scale := 0.0 // turns the spread of the replicates into a variance
	if c.Clusters < enoughToResample {
		c.Band = SmallSampleBand
		replicates = make([][]float64, c.Clusters)
		scale = float64(c.Clusters-1) / float64(c.Clusters)
	} else {
		c.Band = ResampledBand
		replicates = make([][]float64, o.Replicates)
		scale = 1 / float64(o.Replicates-1)
	}
	benches := sync.Pool{New: func() any { return &bench{} }}
	err := inParallel(ctx, len(replicates), 8, func(i int) {
		d := benches.Get().(*bench)
		defer benches.Put(d)
		times := make([]float64, c.Clusters)
		if c.Band == SmallSampleBand {
			copy(times, all)
			times[i] = 0
		} else {
			r := stream(o.Seed, "rates band of "+c.Group, i)
			for range times {
				times[r.IntN(len(times))]++
			}
		}
		if t := p.fit(times, replicateTol, d); t != nil {
			replicates[i] = t.values(p.grid)
		}
	})
	if err != nil {
		return err
	}
	c.band(p, replicates, scale, o.Level)
	return nil
}

// How near, in log-likelihood, a fit comes to its maximum.
const (
	fullTol      = 1e-8
	replicateTol = 1e-4
)

// band sets the limits of every stretch. On a stretch the curve may still fall
// from its left end to its right end where other data would show it, so the lower
// limit is that of the right end and the upper one that of the left.
// docs/methods/rates.md, "Bands of a group curve".
func (c *Curve) band(p *pooled, replicates [][]float64, scale, level float64) {
	variance := func(h float64) float64 {
		place, _ := slices.BinarySearch(p.grid, h)
		mean, n := 0.0, 0.0
		for _, v := range replicates {
			if v != nil {
				mean += v[place]
				n++
			}
		}
		mean /= n
		sum := 0.0
		for _, v := range replicates {
			if v != nil {
				sum += (v[place] - mean) * (v[place] - mean)
			}
		}
		return scale * sum
	}
	b := newBander(c.Clusters, p.baits, level)
	type ends struct{ from, to float64 }
	vars := make([]ends, len(c.Survival))
	for k, s := range c.Survival {
		vars[k] = ends{variance(s.FromH), variance(s.ToH)}
		b.learn(s.Survival, vars[k].from)
		b.learn(s.Survival, vars[k].to)
	}
	for k := range c.Survival {
		s := &c.Survival[k]
		lower, _ := b.limits(s.Survival, vars[k].to)
		_, upper := b.limits(s.Survival, vars[k].from)
		s.Lower, s.Upper = assay.Some(lower), assay.Some(upper)
	}
}

// bander turns a variance between clusters into limits of a survival: the wider
// at each end of two intervals, that of Clopper and Pearson on an effective number
// of baits, shrunk for the degrees of freedom of the variance as by Korn and
// Graubard (1998), Survey Methodology 24:193-201, and Student's on the logit.
type bander struct {
	clusters, baits, level float64
	t                      float64 // Student's quantile with clusters − 1 degrees of freedom
	shrink                 float64 // (z / t)²
	effect                 float64 // largest variance seen, as a multiple of that of independent baits
}

func newBander(clusters int, baits, level float64) *bander {
	z := distuv.UnitNormal.Quantile(0.5 + level/2)
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(clusters - 1)}.Quantile(0.5 + level/2)
	return &bander{clusters: float64(clusters), baits: baits, level: level, t: t, shrink: z * z / (t * t)}
}

func (b *bander) learn(s, variance float64) {
	if s > 0 && s < 1 {
		b.effect = max(b.effect, 1, variance*b.baits/(s*(1-s)))
	}
}

func (b *bander) limits(s, variance float64) (lower, upper float64) {
	if s <= 0 || s >= 1 {
		// Nothing varies, so the variance says nothing. With n independent parts
		// all at the edge, a mean beyond (1 − level)^(1/n) would show that with
		// probability 1 − level at most, whatever the parts' distribution on
		// [0, 1]; clusters are such parts, and where the other stretches say how
		// alike the baits of a cluster are, that many baits.
		n := b.clusters
		if b.effect > 0 {
			n = max(n, b.baits/b.effect*b.shrink)
		}
		edge := math.Exp(math.Log1p(-b.level) / n)
		if s <= 0 {
			return 0, 1 - edge
		}
		return edge, 1
	}
	variance = max(variance, s*(1-s)/b.baits)
	lower, upper, err := ClopperPearson.Limits(s, s*(1-s)/variance*b.shrink, b.level)
	if err != nil {
		return 0, 1
	}
	logit, half := math.Log(s/(1-s)), b.t*math.Sqrt(variance)/(s*(1-s))
	return min(lower, logistic(logit-half)), max(upper, logistic(logit+half))
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }
