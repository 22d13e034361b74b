// Package compare answers: do the habitats differ, by how much, and how sure
// is that? It turns deployments into the frame of a grouped-time proportional
// hazards model with random intercepts (Prentice & Gloeckler 1978), has it
// fitted by package mixed, and tells means, contrasts and a test with what they
// rest on. Rates are per hour, soaks hours.
//
// The estimators stand in docs/methods.
package compare

import (
	"soakline/internal/assay"
	"soakline/internal/plan"
	"soakline/internal/words"
)

// Options of a comparison; see the flags of `soakline compare`.
type Options struct {
	By         string   // the factor to compare: habitat, site, season, team or a covariate with words
	Covariates []string // further columns that enter the model
	// Squared, Curves and Split are covariates that are numbers, which enter with
	// their square, as a natural cubic spline, or as the mean of their site and the
	// difference from it. AsWords are covariates whose numbers are names of levels.
	Squared, Curves, Split, AsWords []string
	// Together are pairs "A,B" whose effects may depend on each other: covariates, the
	// factor, or the word time.
	Together   []string
	Profile    []string // terms, and the word spread for all SDs, that get profile-likelihood limits
	Random     []string // of site, site-habitat, deployment; nil takes the default
	Link       string   // cloglog (default) or logit
	Family     string   // binomial (default) or betabinomial, with Check
	Check      int      // compare the proportions at this check alone; 0 for all
	Bands      string   // nominal (default) or checks
	Reference  string   // the level others are set against; empty for the first in byte order
	Controls   string   // leave-out (default) or subtract
	Adjust     string   // holm (default), simultaneous or none
	Level      float64  // of the limits; 0 means 0.95
	Quadrature int      // points of the adaptive quadrature; 0 and 1 are Laplace
	Bootstrap  int      // replicates; 0 for none
	// BootstrapAuto stops simulating as soon as it is settled on which side of the level
	// the p values lie; Bootstrap is then the most, 0 for MostReplicates.
	BootstrapAuto bool
	Seed          uint64
	Workers       int // 0 for one per core; the result does not depend on it

	Protocols map[string]assay.Protocol
	Default   string          // protocol of a record that names none
	Findings  []assay.Finding // what the rules say: a block keeps a record out
	controlAt float64         // hazard of control rows as known, 1/h; 0 for none
	// NoRepeat leaves out the repetitions with all lost baits survived, or consumed.
	NoRepeat bool
	// Progress is told how many replicates of how many are done; may be nil.
	Progress func(done, of int)
}

// MostReplicates is the most that a bootstrap runs which stops by itself.
const MostReplicates = 9999

// Bound says which side of a term is known.
type Bound string

// A term has two limits, or, where its estimate has no finite maximum, one.
const (
	TwoSided   Bound = "two-sided"
	UpperBound Bound = "upper"
	LowerBound Bound = "lower"
)

// Term is one fixed effect on the log-rate scale (logit scale with that link).
type Term struct {
	Term     string               `json:"term"`
	Estimate assay.Maybe[float64] `json:"estimate"`
	SE       assay.Maybe[float64] `json:"se"`
	Z        assay.Maybe[float64] `json:"z"`
	P        assay.Maybe[float64] `json:"p"`
	Lower    assay.Maybe[float64] `json:"lower"`
	Upper    assay.Maybe[float64] `json:"upper"`
	Bound    Bound                `json:"bound"`
	Shrunk   assay.Maybe[float64] `json:"shrunk"`
	// ProfileLower and ProfileUpper are the profile-likelihood limits, where asked for.
	ProfileLower assay.Maybe[float64] `json:"profile_lower"`
	ProfileUpper assay.Maybe[float64] `json:"profile_upper"`
}

// Spread is the standard deviation of one random intercept.
type Spread struct {
	Group  string               `json:"group"` // site, site-habitat, deployment
	Levels int                  `json:"levels"`
	SD     assay.Maybe[float64] `json:"sd"`
	// Lower and Upper are the profile-likelihood limits, where asked for.
	Lower assay.Maybe[float64] `json:"lower"`
	Upper assay.Maybe[float64] `json:"upper"`
}

// Mean is what one level of the factor comes to at one nominal soak.
type Mean struct {
	Level             string               `json:"level"`
	SoakH             float64              `json:"soak_h"`
	Proportion        assay.Maybe[float64] `json:"proportion"` // integrated over the random intercepts
	Lower             assay.Maybe[float64] `json:"lower"`
	Upper             assay.Maybe[float64] `json:"upper"`
	ProportionTypical assay.Maybe[float64] `json:"proportion_typical"`
	RateTypicalPerH   assay.Maybe[float64] `json:"rate_typical_per_h"`
	RateLowerPerH     assay.Maybe[float64] `json:"rate_lower_per_h"` // limits of the typical row's rate
	RateUpperPerH     assay.Maybe[float64] `json:"rate_upper_per_h"`
	// With few sites: limits by Student's t with DF degrees of freedom and the restricted
	// likelihood's standard errors; else missing.
	DF             assay.Maybe[float64] `json:"df"`
	LowerT         assay.Maybe[float64] `json:"lower_t"`
	UpperT         assay.Maybe[float64] `json:"upper_t"`
	RateLowerTPerH assay.Maybe[float64] `json:"rate_lower_t_per_h"`
	RateUpperTPerH assay.Maybe[float64] `json:"rate_upper_t_per_h"`
}

// Contrast is the ratio of two levels' rates: rate a over rate b.
type Contrast struct {
	A                 string               `json:"a"`
	B                 string               `json:"b"`
	RateRatio         assay.Maybe[float64] `json:"rate_ratio"` // missing with the logit link
	OddsRatio         assay.Maybe[float64] `json:"odds_ratio"` // with the logit link only
	Lower             assay.Maybe[float64] `json:"lower"`
	Upper             assay.Maybe[float64] `json:"upper"`
	LowerSimultaneous assay.Maybe[float64] `json:"lower_simultaneous"`
	UpperSimultaneous assay.Maybe[float64] `json:"upper_simultaneous"`
	P                 assay.Maybe[float64] `json:"p"`
	PAdjusted         assay.Maybe[float64] `json:"p_adjusted"`
	PBootstrap        assay.Maybe[float64] `json:"p_bootstrap"`
	// PBootstrapAdjusted is PBootstrap with the adjustment of Adjust (Holm where that
	// is simultaneous); LowerBootstrap and UpperBootstrap are limits whose width comes
	// from the simulated seasons.
	PBootstrapAdjusted assay.Maybe[float64] `json:"p_bootstrap_adjusted"`
	LowerBootstrap     assay.Maybe[float64] `json:"lower_bootstrap"`
	UpperBootstrap     assay.Maybe[float64] `json:"upper_bootstrap"`
	// With few sites: limits by Student's t with DF degrees of freedom and the restricted
	// likelihood's standard error; else missing.
	DF     assay.Maybe[float64] `json:"df"`
	LowerT assay.Maybe[float64] `json:"lower_t"`
	UpperT assay.Maybe[float64] `json:"upper_t"`
	Bound  Bound                `json:"bound"`
}

// Test is the likelihood-ratio test of all terms of the factor at once.
type Test struct {
	Chi2       assay.Maybe[float64] `json:"chi2"`
	DF         int                  `json:"df"`
	P          assay.Maybe[float64] `json:"p"`
	PBootstrap assay.Maybe[float64] `json:"p_bootstrap"`
	Replicates int                  `json:"replicates"`
	Failed     int                  `json:"failed"`
	// PBootstrapLower and PBootstrapUpper are limits of PBootstrap for its being simulated.
	PBootstrapLower assay.Maybe[float64] `json:"p_bootstrap_lower"`
	PBootstrapUpper assay.Maybe[float64] `json:"p_bootstrap_upper"`
	// Stopped says why simulating ended: none, fixed, settled, or limit, where the
	// most replicates did not settle it.
	Stopped string `json:"stopped"`
	// SmallestP is the smallest p that the layout of levels over sites allows.
	SmallestP assay.Maybe[float64] `json:"smallest_p"`
}

// TermTest is the likelihood-ratio test of some terms at once.
type TermTest struct {
	Terms []string             `json:"terms"`
	Chi2  assay.Maybe[float64] `json:"chi2"`
	DF    int                  `json:"df"`
	P     assay.Maybe[float64] `json:"p"`
}

// BandsTest is the likelihood-ratio test of one ratio for all bands against a ratio
// for each.
type BandsTest struct {
	Chi2 assay.Maybe[float64] `json:"chi2"`
	DF   int                  `json:"df"`
	P    assay.Maybe[float64] `json:"p"`
}

// BandContrast is the ratio of two levels' rates in one band.
type BandContrast struct {
	A         string               `json:"a"`
	B         string               `json:"b"`
	Band      int                  `json:"band"`
	FromH     assay.Maybe[float64] `json:"from_h"` // missing where a band is a check
	ToH       assay.Maybe[float64] `json:"to_h"`   // missing of the last, which has no end
	RateRatio assay.Maybe[float64] `json:"rate_ratio"`
	Lower     assay.Maybe[float64] `json:"lower"`
	Upper     assay.Maybe[float64] `json:"upper"`
	P         assay.Maybe[float64] `json:"p"`
	Bound     Bound                `json:"bound"`
}

// Excluded is a deployment that did not enter, and why.
type Excluded struct {
	DeploymentID string `json:"deployment_id"`
	Slug         string `json:"slug"`
}

// Level is one level of the factor and what it rests on.
type Level struct {
	Level       string `json:"level"`
	Deployments int    `json:"deployments"`
	Sites       int    `json:"sites"`
	Baits       int    `json:"baits"`
	Consumed    int    `json:"consumed"`
}

// Result of a comparison: the JSON that `soakline compare --json` prints.
type Result struct {
	Contract    int                  `json:"contract"`
	By          string               `json:"by"`
	Deployments int                  `json:"deployments"`
	Intervals   int                  `json:"intervals"`
	Sites       int                  `json:"sites"`
	Levels      []Level              `json:"levels"`
	Link        string               `json:"link"`
	Family      string               `json:"family"`
	Bands       string               `json:"bands"`
	BandsH      []float64            `json:"bands_h"` // ends of the time bands
	Quadrature  int                  `json:"quadrature"`
	LogLik      assay.Maybe[float64] `json:"loglik"`
	AIC         assay.Maybe[float64] `json:"aic"`
	Converged   bool                 `json:"converged"`
	Ending      string               `json:"ending"` // how the fit ended, as a slug
	ConfLevel   float64              `json:"level"`
	Adjust      string               `json:"adjust"`
	Messages    []words.Message      `json:"messages"`
	Fixed       []Term               `json:"fixed"`
	Random      []Spread             `json:"random"`
	Means       []Mean               `json:"means"`
	Contrasts   []Contrast           `json:"contrasts"`
	Test        Test                 `json:"test"`
	// BandsTest asks whether the ratios are the same in every band; BandContrasts
	// stand where they are not, or where the factor is taken together with time.
	BandsTest     BandsTest      `json:"bands_test"`
	BandContrasts []BandContrast `json:"band_contrasts"`
	TermTests     []TermTest     `json:"term_tests"`
	Curves        []Curve        `json:"curves"`
	Excluded      []Excluded     `json:"excluded"`
	Seed          uint64         `json:"seed"`
	Controls      Controls       `json:"controls"`
	// Sensitivity is null where it was not asked for.
	Sensitivity []Repeated `json:"sensitivity"`
	// Plan is how the result stands to the analysis plans of its logbook; null where
	// it comes from files.
	Plan *plan.Standing `json:"plan"`
}
