package visits

import (
	"math"
	"time"
)

// span is a closed stretch of time, seconds of Unix time.
type span struct{ from, to float64 }

// set is a set of times: spans in order that do not touch.
type set []span

// seconds is an instant as Unix time; its inverse is instant.
func seconds(t time.Time) float64 { return float64(t.Unix()) + float64(t.Nanosecond())/1e9 }

func instant(s float64) time.Time {
	whole := math.Floor(s)
	return time.Unix(int64(whole), int64((s-whole)*1e9)).UTC()
}

// hair is far below the second and far above what adding offsets to Unix time
// rounds (1e-7 s): two ends closer than this are one.
const hair = 1e-4

// firstSecond is the first whole second at or after s, lastSecond the last at or
// before it.
func firstSecond(s float64) float64 { return math.Ceil(s - hair) }
func lastSecond(s float64) float64  { return math.Floor(s + hair) }

// add puts a span behind those there, and joins the two when they touch.
func (a set) add(s span) set {
	if n := len(a); n > 0 && s.from <= a[n-1].to+hair {
		a[n-1].to = math.Max(a[n-1].to, s.to)
		return a
	}
	return append(a, s)
}

// and is the set of times in both.
func (a set) and(b set) set {
	var out set
	for i, j := 0, 0; i < len(a) && j < len(b); {
		from, to := math.Max(a[i].from, b[j].from), math.Min(a[i].to, b[j].to)
		if from <= to {
			out = append(out, span{from, to})
		}
		if a[i].to < b[j].to {
			i++
		} else {
			j++
		}
	}
	return out
}

// held is the set of times t for which [t + after, t + after + long] lies wholly
// in the set.
func (a set) held(after, long float64) set {
	var out set
	for _, s := range a {
		if s.to-s.from >= long {
			out = append(out, span{s.from - after, s.to - after - long})
		}
	}
	return out
}

// within is the part of the set in a range.
func (a set) within(from, to float64) set {
	var out set
	for i := a.search(from); i < len(a) && a[i].from <= to; i++ {
		out = append(out, span{math.Max(from, a[i].from), math.Min(to, a[i].to)})
	}
	return out
}

// search is the index of the first span that ends at or after s.
func (a set) search(s float64) int {
	lo, hi := 0, len(a)
	for lo < hi {
		if m := (lo + hi) / 2; a[m].to < s {
			lo = m + 1
		} else {
			hi = m
		}
	}
	return lo
}

// at is the span that holds s.
func (a set) at(s float64) (span, bool) {
	i := a.search(s - hair)
	if i < len(a) && a[i].from <= s+hair {
		return a[i], true
	}
	return span{}, false
}

// hours is how long the set is.
func (a set) hours() float64 {
	sum := 0.0
	for _, s := range a {
		sum += s.to - s.from
	}
	return sum / 3600
}
