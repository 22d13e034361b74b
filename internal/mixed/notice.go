package mixed

// Ending says how a fit ended.
type Ending string

const (
	// Converged: a maximum was found, with every SD inside its range.
	Converged Ending = "converged"
	// VarianceAtZero: a maximum was found, with at least one SD at zero.
	VarianceAtZero Ending = "variance-at-zero"
	// Separation: the likelihood has a supremum, not a maximum: at least one
	// term runs away. The other terms are at their maximum.
	Separation Ending = "separation"
	// StepLimit: no maximum within the step limit; nothing is estimated.
	StepLimit Ending = "step-limit"
	// NoEvents: not one event; nothing can be estimated.
	NoEvents Ending = "no-events"
	// OnlyEvents: every trial was an event; nothing can be estimated.
	OnlyEvents Ending = "only-events"
	// NoTrials: not one trial.
	NoTrials Ending = "no-trials"
)

// Usable reports whether estimates stand in the result.
func (e Ending) Usable() bool {
	return e == Converged || e == VarianceAtZero || e == Separation
}

// Slugs of notices.
const (
	SlugVarianceAtZero    = "variance-at-zero"   // Group: its SD is zero
	SlugSeparation        = "separation"         // Term: no finite maximum; Value −1 or +1 the side it runs to
	SlugAliased           = "aliased"            // Term: dropped; Other: the terms it is made of
	SlugOneGroup          = "one-group"          // Group: a single group, no SD
	SlugLevelsCoincide    = "levels-coincide"    // Group: same groups as Other, left out
	SlugFewGroups         = "few-groups"         // Group: Value groups, an SD from so few is hardly known
	SlugDispersionAtZero  = "dispersion-at-zero" // κ is zero: the family is binomial
	SlugLaplaceInaccurate = "laplace-inaccurate" // Value: the largest shift, in standard errors
	SlugStepLimit         = "step-limit"         // no maximum found
	// SlugLaplaceBreaks: with a background hazard the density of the intercepts can have two
	// modes, and Laplace's approximation jumps from one to the other.
	SlugLaplaceBreaks   = "laplace-breaks"
	SlugSpreadUnbounded = "spread-unbounded"         // Group: the likelihood grows with its SD without end
	SlugNoEvents        = "no-events"                // no event at all
	SlugOnlyEvents      = "only-events"              // nothing but events
	SlugBoundNotFound   = "bound-not-found"          // Term: its profile likelihood never fell by the drop
	SlugInformation     = "information-not-positive" // standard errors cannot be had
)

// Notice is one thing the reader of a result must know: a slug and its
// parameters; the sentence is the caller's.
type Notice struct {
	Slug  string
	Term  string
	Group string
	Other string
	Value float64
}
