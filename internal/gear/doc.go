// Package gear answers what the team has in its hands and in the water: which
// stakes are still out, what is known of a batch of baits, and how far readers
// agree on a practice card.
//
// Stakes out: set, less those counted back, found later, or written off with a
// place and a reason; a row is told until none is open. A batch's sample of
// sizes and free lines is summed up plainly and held against the protocol.
// Agreement is Cohen's kappa (agree.go). Lengths are mm, times hours as named.
// It keeps nothing and knows no clock.
package gear
