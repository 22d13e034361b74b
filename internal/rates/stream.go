package rates

import (
	"hash/fnv"
	"math/rand/v2"
)

// stream is the random stream of one replicate of one purpose: two streams of
// different seed, purpose or replicate share nothing, and none depends on which
// core runs it.
func stream(seed uint64, purpose string, replicate int) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(purpose))
	a := mix(seed ^ mix(h.Sum64()))
	return rand.New(rand.NewPCG(a, mix(a^mix(uint64(replicate)))))
}

// mix is the finaliser of SplitMix64: Steele, Lea and Flood (2014), OOPSLA,
// with its increment added first.
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9
	x = (x ^ (x >> 27)) * 0x94d049bb133111eb
	return x ^ (x >> 31)
}
