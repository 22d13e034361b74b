// Package mixed answers: how does the rate at which events happen depend on
// what we know of the observations, when observations come in groups within
// groups and only counts at the ends of intervals are seen?
//
// Model: y of r trials had an event in an interval; the probability is
// 1 − exp(−H) with H = exp(u) Σ over pieces of exposure·exp(x'β) (complementary
// log-log link: grouped-time proportional hazards, Prentice & Gloeckler 1978,
// Biometrics 34:57–67), or the inverse logit of x'β + u. u is a sum of nested
// normal random intercepts, one for each level of a chain of any depth
// (site, habitat within site, deployment), and of factors with few groups that cut
// across it (observer). The family is binomial or
// beta-binomial. A background hazard without random intercept may be added.
//
// Method: maximum likelihood by Laplace's approximation with the true second
// derivative; the nesting makes the Hessian of the random intercepts a tree,
// eliminated from the leaves upwards in time linear in the observations; the
// gradient is analytic, the log-determinant's part included; adaptive
// Gauss–Hermite quadrature over the tree as a check. docs/methods/mixed.md
// states each estimator once with its source.
//
// Numbers in, numbers out: rates are per unit of exposure, SDs on the scale of
// the linear predictor. A value that does not exist is NaN. It knows nothing
// of baits, sites or files, and leaves out random
// slopes and correlated intercepts.
package mixed
