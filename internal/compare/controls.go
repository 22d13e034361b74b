package compare

import (
	"context"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"soakline/internal/assay"
	"soakline/internal/mixed"
	"soakline/internal/rates"
)

// ControlLoss is what went in the control rows of one kind by one check. Kinds are
// never put together: a shielded row loses baits to handling and waves, a partly
// shielded one also to what still gets in, a handling row tells of handling alone.
type ControlLoss struct {
	Kind        string               `json:"kind"`
	Check       int                  `json:"check"`
	Deployments int                  `json:"deployments"`
	Baits       int                  `json:"baits"`    // whose fate is known
	Consumed    int                  `json:"consumed"` // gone, of them
	SoakH       float64              `json:"soak_h"`   // median
	Proportion  assay.Maybe[float64] `json:"proportion"`
	Lower       assay.Maybe[float64] `json:"lower"` // null where the bound is an upper one
	Upper       assay.Maybe[float64] `json:"upper"`
	Bound       Bound                `json:"bound"`
}

// ControlBound is the comparison with the largest loss subtracted that control
// rows without any loss leave possible.
type ControlBound struct {
	RateUpperPerH float64    `json:"rate_upper_per_h"`
	BaitHours     float64    `json:"bait_hours"`
	Means         []Mean     `json:"means"`
	Contrasts     []Contrast `json:"contrasts"`
	Test          Test       `json:"test"`
	Turns         bool       `json:"turns"`
}

// Controls is what the control rows say, and what was done with them.
type Controls struct {
	Used         string        `json:"used"` // none, or shielded where their loss is subtracted
	Loss         []ControlLoss `json:"loss"`
	AtUpperBound *ControlBound `json:"at_upper_bound"` // where shielded rows lost nothing
}

// controlKinds in the order in which they are told.
var controlKinds = []assay.Control{assay.Shielded, assay.PartlyShielded, assay.Handling}

// controlRows are the rows of a kind that could be read and have no block, as
// ordinary ones.
func controlRows(ds []assay.Deployment, kind assay.Control, findings []assay.Finding) []assay.Deployment {
	var rows []assay.Deployment
	for i := range ds {
		if ds[i].Control == kind && !ds[i].IsPractice() {
			d := ds[i]
			d.Control = assay.NoControl
			rows = append(rows, d)
		}
	}
	var in []assay.Deployment
	for _, i := range rates.Enter(rows, findings).In {
		in = append(in, rows[i])
	}
	return in
}

// controlLoss tells the loss of every kind at every check.
func (f *frame) controlLoss(ds []assay.Deployment) []ControlLoss {
	out := []ControlLoss{}
	for _, kind := range controlKinds {
		type seen struct {
			gone, of []float64
			soaks    []float64
		}
		checks := map[int]*seen{}
		rows := controlRows(ds, kind, f.o.Findings)
		for i := range rows {
			d := &rows[i]
			p := f.protocolOf(d)
			read, baits, _ := rates.FromStakes(d, p.CountsAsConsumed...)
			counted := *d
			counted.Checks, counted.Baits = read, baits
			lost, _ := rates.Lost(&counted)
			for k, c := range read {
				soak, ok := d.SoakH(c)
				if !c.Read() || !ok {
					continue
				}
				s := checks[c.Number]
				if s == nil {
					s = &seen{}
					checks[c.Number] = s
				}
				if of := baits - lost[k] - c.Unread.Or(0); of > 0 {
					s.gone, s.of, s.soaks = append(s.gone, float64(c.Consumed.Or(0))), append(s.of, float64(of)), append(s.soaks, soak)
				}
			}
		}
		var numbers []int
		for n, s := range checks {
			if len(s.of) > 0 {
				numbers = append(numbers, n)
			}
		}
		slices.Sort(numbers)
		for _, n := range numbers {
			s := checks[n]
			l := lossOf(s.gone, s.of, f.o.Level)
			sort.Float64s(s.soaks)
			m := len(s.soaks)
			l.Kind, l.Check, l.SoakH = string(kind), n, (s.soaks[(m-1)/2]+s.soaks[m/2])/2
			out = append(out, l)
		}
	}
	return out
}

// lossOf is the share gone of all baits of several rows, which are taken as
// clusters: Clopper and Pearson's limits on an effective number of baits N / d ×
// (z / t)², d the design effect of the ratio Σ gone / Σ of between rows (at least
// 1), t Student's quantile with one degree of freedom fewer than rows (Korn &
// Graubard 1998, Survey Methodology 24:193–201). With one row d is 1 and nothing is
// shrunk: its baits are taken as independent. Nothing gone: the upper bound
// 1 − (1 − level)^(1/N); all gone: the lower bound that mirrors it.
func lossOf(gone, of []float64, level float64) ControlLoss {
	g, n := sum(gone), sum(of)
	l := ControlLoss{Deployments: len(of), Baits: int(n), Consumed: int(g), Bound: TwoSided, Proportion: assay.Some(g / n)}
	edge := math.Exp(math.Log1p(-level) / n)
	switch g {
	case 0:
		l.Bound, l.Upper = UpperBound, assay.Some(1-edge)
		return l
	case n:
		l.Bound, l.Lower = LowerBound, assay.Some(edge)
		return l
	}
	p, effective := g/n, n
	if m := float64(len(of)); m > 1 {
		v := 0.0
		for i := range of {
			v += (gone[i] - p*of[i]) * (gone[i] - p*of[i])
		}
		v *= m / (m - 1) / (n * n)
		z := distuv.UnitNormal.Quantile(0.5 + level/2)
		t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: m - 1}.Quantile(0.5 + level/2)
		effective = n / max(1, v*n/(p*(1-p))) * z * z / (t * t)
	}
	if lower, upper, err := rates.ClopperPearson.Limits(p, effective, level); err == nil {
		l.Lower, l.Upper = assay.Some(lower), assay.Some(upper)
	}
	return l
}

func sum(list []float64) float64 {
	s := 0.0
	for _, x := range list {
		s += x
	}
	return s
}

// controlsTell says what the control rows lost, and where shielded rows that are
// to be subtracted lost nothing, carries on what that leaves possible: at most
// −ln(1 − level) / T per hour, T their bait-hours (the bound of one row in which
// nothing was consumed), fixed as a hazard that every row shares.
func (f *frame) controlsTell(ctx context.Context, ds []assay.Deployment, r *Result) error {
	r.Controls = Controls{Used: "none", Loss: f.controlLoss(ds)}
	if !f.hasControls() {
		return nil
	}
	r.Controls.Used = string(assay.Shielded)
	gone, hours, n := 0, 0.0, 0
	for _, s := range f.spans {
		if row := f.rows[s.row]; row.control {
			gone += s.consumed
			for _, h := range s.stretches() {
				hours += float64(h.atRisk) * (h.toH - h.fromH)
			}
		}
	}
	for _, row := range f.rows {
		if row.control {
			n++
		}
	}
	if gone > 0 || hours <= 0 || !r.Converged {
		return nil
	}
	o := f.o
	o.controlAt = -math.Log1p(-o.Level) / hours
	o.Controls, o.NoRepeat, o.Bootstrap, o.BootstrapAuto = "leave-out", true, 0, false
	other, err := once(ctx, ds, o, &mixed.Result{})
	if err != nil {
		return err
	}
	b := &ControlBound{RateUpperPerH: o.controlAt, BaitHours: hours, Means: other.Means, Contrasts: other.Contrasts, Test: other.Test, Turns: Turns(r, other)}
	r.Controls.AtUpperBound = b
	if b.Turns {
		f.say("controls-zero-turns", "n", n, "hours", hours, "rate", b.RateUpperPerH)
	} else {
		f.say("controls-zero", "n", n, "hours", hours, "rate", b.RateUpperPerH)
	}
	return nil
}
