package demo

import (
	"math"
	"math/rand/v2"
	"sync"
)

// Model is what the counts are drawn from. Rates are per hour.
type Model struct {
	// Habitats holds the rate of a typical row at ReferenceC: first hour, later.
	Habitats []HabitatRate `json:"habitats"`
	// LaterOverFirst is the rate after the first hour relative to the first.
	LaterOverFirst float64 `json:"later_over_first"`
	// The intercepts' standard deviations, on the log rate.
	SDSite        float64 `json:"sd_site"`
	SDSiteHabitat float64 `json:"sd_site_habitat"`
	SDDeployment  float64 `json:"sd_deployment"`
	// TemperaturePerC is the change of the log rate per °C.
	TemperaturePerC float64 `json:"temperature_per_c"`
	ReferenceC      float64 `json:"reference_c"`
	// ControlPerH is the rate at which baits of a shielded row go.
	ControlPerH float64 `json:"control_rate_per_h"`
	// LossShare is the share of the baits at risk lost before each check.
	LossShare [2]float64 `json:"loss_share_by_interval"`
	// UnreadShare is the share not read at check 1, by teams that note it.
	UnreadShare float64 `json:"unread_share_at_check1"`
}

// HabitatRate is the truth of one habitat.
type HabitatRate struct {
	Habitat       string  `json:"habitat"`
	FirstRatePerH float64 `json:"first_rate_per_h"`
	LaterRatePerH float64 `json:"later_rate_per_h"`
	// Proportions consumed at 1 h and 24 h: of a typical row (all intercepts
	// zero), and the mean over all rows one might set (intercepts integrated out).
	Typical1H  float64 `json:"proportion_typical_1h"`
	Typical24H float64 `json:"proportion_typical_24h"`
	Mean1H     float64 `json:"proportion_mean_1h"`
	Mean24H    float64 `json:"proportion_mean_24h"`
}

// theModel: the numbers are inventions, chosen so that sand stands out and
// seagrass and reef do not differ enough for a season of this size. Worked out once.
var theModel = sync.OnceValue(invent)

func invent() Model {
	m := Model{
		LaterOverFirst: 0.35, SDSite: 0.35, SDSiteHabitat: 0.30, SDDeployment: 0.45,
		TemperaturePerC: 0.10, ReferenceC: 20, ControlPerH: 0.002, LossShare: [2]float64{0.010, 0.030}, UnreadShare: 0.01,
	}
	total := math.Sqrt(m.SDSite*m.SDSite + m.SDSiteHabitat*m.SDSiteHabitat + m.SDDeployment*m.SDDeployment)
	for _, h := range []struct {
		name string
		rate float64
	}{{seagrass, 0.16}, {sand, 0.05}, {reef, 0.18}} {
		h1, h24 := hazard(h.rate, m.LaterOverFirst, 1), hazard(h.rate, m.LaterOverFirst, 24)
		m.Habitats = append(m.Habitats, HabitatRate{
			Habitat: h.name, FirstRatePerH: h.rate, LaterRatePerH: round(h.rate * m.LaterOverFirst),
			Typical1H: round(-math.Expm1(-h1)), Typical24H: round(-math.Expm1(-h24)),
			Mean1H: round(meanProportion(h1, total)), Mean24H: round(meanProportion(h24, total)),
		})
	}
	return m
}

func (m *Model) rate(habitat string) float64 {
	for _, h := range m.Habitats {
		if h.Habitat == habitat {
			return h.FirstRatePerH
		}
	}
	panic("demo: no habitat " + habitat)
}

// hazard is the cumulative hazard at soakH: ratePerH in the first hour, later
// times that after it.
func hazard(ratePerH, later, soakH float64) float64 {
	return ratePerH * (math.Min(soakH, 1) + later*math.Max(soakH-1, 0))
}

// meanProportion is E[1 − exp(−h exp(b))] over b ~ N(0, sd²), by the trapezoid
// rule on ±8 sd (the integrand and its derivatives vanish there, so the rule
// converges faster than any power of the step).
func meanProportion(h, sd float64) float64 {
	const steps = 400
	sum := 0.0
	for i := range steps + 1 {
		z := -8 + 16*float64(i)/steps
		sum += math.Exp(-z*z/2) * -math.Expm1(-h*math.Exp(sd*z))
	}
	return sum * (16.0 / steps) / math.Sqrt(2*math.Pi)
}

// round keeps nine decimals: enough, and the same on every platform.
func round(x float64) float64 { return math.Round(x*1e9) / 1e9 }

// Purposes of random streams; no two share one.
const (
	forSite uint64 = iota + 1
	forSiteHabitat
	forDeployment
	forDay
	forRow
	forBaits
	forSightings
)

// stream is the source of one purpose and replicate.
func stream(seed, purpose, replicate uint64) *rand.Rand {
	a := mix(seed + purpose*0x9E3779B97F4A7C15)
	return rand.New(rand.NewPCG(a, mix(a^mix(replicate))))
}

// mix is the finaliser of SplitMix64 (Steele, Lea, Flood 2014, OOPSLA, figure
// 16) after one step of its Weyl sequence.
func mix(x uint64) uint64 {
	x += 0x9E3779B97F4A7C15
	x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9
	x = (x ^ (x >> 27)) * 0x94D049BB133111EB
	return x ^ (x >> 31)
}
