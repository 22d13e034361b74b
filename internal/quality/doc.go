// Package quality answers what is wrong with the records of a season: it takes
// deployments as they were read and gives findings, each with the slug of its
// rule, a severity, the place in the file and typed parameters.
//
// Method: every rule is one small function, listed in Rules with its severity
// and the fields of the protocol that it takes its tolerance from. Most rules
// look at one row; those across rows (duplicates, position against the rows of
// the same site, a year unlike the others) sort or bucket first, so that the
// work grows with the number of rows and not with its square.
//
// Block is what cannot be: the record stays out of every result until it is
// mended. Ask is what is probably wrong; the answer a person gives is kept and
// stands as long as the values it was about stay the same (Fingerprint). Note
// is a deviation to declare.
//
// The sentence of a finding stands in the catalogue under "finding." and its
// slug; it begins with what was read, since the caller prints the place before
// it. The rules are listed for people in docs/reference/findings.md.
//
// Units stand in the names: H hours, M metres, Km kilometres. The package has
// no clock: what the time is now is an argument. It leaves out what needs a
// tide or a fitted model, and cells that cannot be read, which package intake
// refuses.
package quality
