package sun

import (
	"math"
	"sort"
	"time"
)

// Phase is one of the four of the moon.
type Phase string

// The phases, in the order in which they follow each other.
const (
	NewMoon      Phase = "new"
	FirstQuarter Phase = "first quarter"
	FullMoon     Phase = "full"
	LastQuarter  Phase = "last quarter"
)

var phases = [...]Phase{NewMoon, FirstQuarter, FullMoon, LastQuarter}

// PhaseAt is a phase and its instant, UTC, to the second.
type PhaseAt struct {
	Phase Phase
	At    time.Time
}

// NextPhases gives the next of each of the four phases after an instant, in
// order of time. Within 20 s of an independent ephemeris (see the tests).
func NextPhases(after time.Time) []PhaseAt {
	// k counts new moons from the first of 2000; its quarters are the phases.
	quarter := int(math.Floor((seconds(after)/daySeconds/29.530588861)*4)) - 6
	var out []PhaseAt
	seen := map[Phase]bool{}
	for ; len(out) < len(phases); quarter++ {
		phase := phases[((quarter%4)+4)%4]
		at := phaseTime(quarter)
		if !seen[phase] && at.After(after) {
			seen[phase] = true
			out = append(out, PhaseAt{phase, at})
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].At.Before(out[j].At) })
	return out
}

// phaseTerm is a term of chapter 49: multiples of M, M′ and F, the power of E,
// and coefficients in 10⁻⁵ days for new moon, full moon, quarters.
type phaseTerm struct {
	m, mm, f float64
	e        int
	c        [3]float64
}

// Meeus, chapter 49, the tables of new and full moon and of the quarters,
// brought together by argument.
var phaseTerms = []phaseTerm{
	{0, 1, 0, 0, [3]float64{-40720, -40614, -62801}}, {1, 0, 0, 1, [3]float64{17241, 17302, 17172}},
	{0, 2, 0, 0, [3]float64{1608, 1614, 862}}, {0, 0, 2, 0, [3]float64{1039, 1043, 804}},
	{-1, 1, 0, 1, [3]float64{739, 734, 454}}, {1, 1, 0, 1, [3]float64{-514, -515, -1183}},
	{2, 0, 0, 2, [3]float64{208, 209, 204}}, {0, 1, -2, 0, [3]float64{-111, -111, -180}},
	{0, 1, 2, 0, [3]float64{-57, -57, -70}}, {1, 2, 0, 1, [3]float64{56, 56, 27}},
	{0, 3, 0, 0, [3]float64{-42, -42, -40}}, {1, 0, 2, 1, [3]float64{42, 42, 32}},
	{1, 0, -2, 1, [3]float64{38, 38, 32}}, {-1, 2, 0, 1, [3]float64{-24, -24, -34}},
	{2, 1, 0, 0, [3]float64{-7, -7, 0}}, {2, 1, 0, 2, [3]float64{0, 0, -28}},
	{0, 2, -2, 0, [3]float64{4, 4, 2}}, {3, 0, 0, 0, [3]float64{4, 4, 3}},
	{1, 1, -2, 0, [3]float64{3, 3, 3}}, {0, 2, 2, 0, [3]float64{3, 3, 4}},
	{1, 1, 2, 0, [3]float64{-3, -3, -4}}, {-1, 1, 2, 0, [3]float64{3, 3, 2}},
	{-1, 1, -2, 0, [3]float64{-2, -2, -5}}, {1, 3, 0, 0, [3]float64{-2, -2, -2}},
	{0, 4, 0, 0, [3]float64{2, 2, 0}}, {-2, 1, 0, 0, [3]float64{0, 0, 4}},
}

// planetTerms are the additional corrections of all phases: argument at k = 0
// (degrees), its change with k, coefficient in 10⁻⁶ days.
var planetTerms = [...][3]float64{
	{299.77, 0.107408, 325}, {251.88, 0.016321, 165}, {251.83, 26.651886, 164}, {349.42, 36.412478, 126},
	{84.66, 18.206239, 110}, {141.74, 53.303771, 62}, {207.14, 2.453732, 60}, {154.84, 7.306860, 56},
	{34.52, 27.261239, 47}, {207.19, 0.121824, 42}, {291.34, 1.844379, 40}, {161.72, 24.198154, 37},
	{239.56, 25.513099, 35}, {331.55, 3.592518, 23},
}

// phaseTime is the instant of a phase: quarter is 4k, k = 0 at the new moon of
// 6 January 2000. Meeus, chapter 49.
func phaseTime(quarter int) time.Time {
	s := (phaseDays(quarter)) * daySeconds
	return instant(s - deltaT(s)).Round(time.Second)
}

// phaseDays is the instant of a phase in days of dynamical time since J2000.0.
func phaseDays(quarter int) float64 {
	k := float64(quarter) / 4
	T := k / 1236.85
	which := [4]int{0, 2, 1, 2}[((quarter%4)+4)%4]
	E := eccentricity(T)
	M := poly(T, 2.5534+29.10535670*k, 0, -0.0000014, -0.00000011)
	N := poly(T, 201.5643+385.81693528*k, 0, 0.0107582, 0.00001238, -0.000000058) // M′
	F := poly(T, 160.7108+390.67050284*k, 0, -0.0016118, -0.00000227, 0.000000011)
	node := poly(T, 124.7746-1.56375588*k, 0, 0.0020672, 0.00000215)

	days := poly(T, 2451550.09766-2451545+29.530588861*k, 0, 0.00015437, -0.000000150, 0.00000000073)
	days -= 0.00017 * sind(node)
	for _, t := range phaseTerms {
		days += math.Pow(E, float64(t.e)) * t.c[which] * 1e-5 * sind(t.m*M+t.mm*N+t.f*F)
	}
	for i, t := range planetTerms {
		arg := t[0] + t[1]*k
		if i == 0 {
			arg -= 0.009173 * T * T
		}
		days += t[2] * 1e-6 * sind(arg)
	}
	if which == 2 {
		w := 0.00306 - 0.00038*E*cosd(M) + 0.00026*cosd(N) - 0.00002*cosd(N-M) + 0.00002*cosd(N+M) + 0.00002*cosd(2*F)
		if ((quarter%4)+4)%4 == 1 {
			days += w
		} else {
			days -= w
		}
	}
	return days
}
