// Package visits answers when a row may be set out so that all of it goes well:
// the row stays under water over the whole soak, the water at setting and at every
// check suits the way of working, there is light, and the way back is open until
// the work is done and walked. Where no start will do it says why, with numbers,
// and what would do; for each window it gives the latest time to turn back.
//
// Heights, beds and the level of the way are metres above one datum, a bed below
// it negative; depths and the margin are metres; times are instants. The margin is
// what weather may move the water by: it is asked for on both sides, of the row, of
// the work, and of the way back.
//
// Method: every demand is a set of times, a list of closed intervals whose ends are
// roots of the water's curve between two of its turns, or events of light. A demand
// that must be held for d hours from c hours after the start makes of each interval
// [a, b] the starts [a − c, b − c − d]; the starts that will do are the
// intersection. Nothing is sampled on a grid of starts. docs/methods/windows.md has
// the formulas.
//
// It leaves out weather, surge, waves, current (the rate of rise and fall may stand
// in for it, and is no more than that), hills before the sun, and whatever the sea
// does that the prediction does not know.
package visits
