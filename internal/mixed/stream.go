package mixed

import "math/rand/v2"

// Purposes of random streams; two purposes never share one.
const (
	purposeLattice = iota + 1
	purposeIntercepts
	purposeCounts
	purposeSeasons
	purposeExtra
)

// splitMix64 is the finaliser of Steele, Lea & Flood (2014, Proc. OOPSLA,
// 453–472): one step of the generator from state x.
func splitMix64(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// stream is the random stream of one replicate of one purpose.
func stream(seed, purpose, replicate uint64) *rand.Rand {
	return rand.New(streamSource(seed, purpose, replicate))
}

func streamSource(seed, purpose, replicate uint64) *rand.PCG {
	a := splitMix64(seed ^ splitMix64(purpose))
	b := splitMix64(a ^ splitMix64(replicate))
	return rand.NewPCG(a, b)
}
