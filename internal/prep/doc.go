// Package prep answers: what has to be bought and cut for so many rows, and how
// long does it take with so many helpers?
//
// Quantities are the protocol's numbers times the rows, with a stated spare for
// each thing, rounded up to what is sold. Baits per piece are counted on the
// piece's measures, clear of the stiff midline. The production line shares the
// steps among helpers so that the busiest is done soonest. Lengths are mm or m
// as named, times seconds or minutes as named.
//
// A kit (kit.go) holds the spares, measures, packs, prices and timings; the
// default one stands in kit.toml, every value common practice, no source. It
// leaves out curved edges and holes of a piece, and learning: the first bait
// takes longer than the hundredth.
package prep
