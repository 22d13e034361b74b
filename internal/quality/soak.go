package quality

import (
	"math"
	"time"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

func soakRules() []Rule {
	soak := []string{"check.soak_h", "check.tolerance_h"}
	return []Rule{
		{Slug: "soak-fits-other-check", Severity: assay.Ask, Tolerances: soak, one: soakFitsOtherCheck},
		{Slug: "soak-far-off", Severity: assay.Ask, Tolerances: soak, one: soakFarOff},
		{Slug: "soak-off-nominal", Severity: assay.Note, Tolerances: soak, one: soakOffNominal},
		{Slug: "missed-without-reason", Severity: assay.Note, Tolerances: soak, one: missedWithoutReason},
	}
}

// A soak off by more than this many tolerances, and by more than this share of
// the nominal soak, is rather a wrong date or hour than a late visit. Bounds of
// belief, no source.
const (
	farTolerances = 4
	farShare      = 0.25
)

// hourSlack keeps a soak of exactly nominal + tolerance inside it.
const hourSlack = 1e-9

// offNominal is one check that was read outside its tolerance.
type offNominal struct {
	assay.Check
	soakH   float64
	nominal assay.Nominal
	fits    int // another check of the protocol whose tolerance it meets; 0 for none
	far     bool
}

// offNominals lists the read checks that the protocol has and that are outside
// its tolerance. Soaks at or below 0 are blocked elsewhere.
func (r *row) offNominals(do func(offNominal)) {
	for _, c := range r.checks {
		if c.Number < 1 || c.Number > len(r.p.Checks) || !c.Read() {
			continue
		}
		h, ok := r.d.SoakH(c)
		nominal := r.p.Checks[c.Number-1]
		off := math.Abs(h - nominal.SoakH)
		if !ok || h <= 0 || off <= nominal.ToleranceH+hourSlack {
			continue
		}
		o := offNominal{Check: c, soakH: h, nominal: nominal}
		for k, other := range r.p.Checks {
			if math.Abs(h-other.SoakH) <= other.ToleranceH+hourSlack {
				o.fits = k + 1
			}
		}
		o.far = off > max(farTolerances*nominal.ToleranceH, farShare*nominal.SoakH)
		do(o)
	}
}

func (r *row) saySoak(o offNominal, with map[string]any) {
	with["check"], with["soak_h"] = o.Number, o.soakH
	with["nominal_h"], with["tolerance_h"] = o.nominal.SoakH, o.nominal.ToleranceH
	r.say(hit{check: o.Number, field: column(atCol, o.Number), value: sheet.FormatMoment(o.At), with: with,
		about: []any{r.d.SetOut, r.d.SetOutUntil, o.At, o.Until}})
}

func soakFitsOtherCheck(r *row) {
	r.offNominals(func(o offNominal) {
		if o.fits > 0 {
			r.saySoak(o, map[string]any{"fits": o.fits})
		}
	})
}

func soakFarOff(r *row) {
	r.offNominals(func(o offNominal) {
		if o.fits == 0 && o.far {
			r.saySoak(o, map[string]any{})
		}
	})
}

func soakOffNominal(r *row) {
	r.offNominals(func(o offNominal) {
		if o.fits == 0 && !o.far {
			r.saySoak(o, map[string]any{})
		}
	})
}

// due says whether the check of the protocol should have been made by now.
func (r *row) due(n assay.Nominal) bool {
	now := r.j.ctx.Now
	if now.IsZero() || !r.d.SetOut.Known() {
		return true
	}
	return now.After(r.d.SetOut.At.Add(time.Duration((n.SoakH + n.ToleranceH) * float64(time.Hour))))
}

// missedWithoutReason leaves alone a row that was given up and one without any
// counts, of which never-read speaks.
func missedWithoutReason(r *row) {
	if r.d.AbandonedAt.Known() || r.lastRead() < 0 {
		return
	}
	for k, n := range r.p.Checks {
		if r.silent(k+1) && r.due(n) {
			r.say(hit{check: k + 1, field: column(consumedCol, k+1),
				with: map[string]any{"check": k + 1, "nominal_h": n.SoakH}})
		}
	}
}

// silent says whether nothing at all is written of check k.
func (r *row) silent(k int) bool {
	for _, c := range r.checks {
		if c.Number != k {
			continue
		}
		_, lost := lostWritten(c)
		if c.Read() || lost || c.WhyNot != "" || c.At.Known() || c.Until.Known() {
			return false
		}
	}
	return true
}
