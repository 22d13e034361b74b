package tide

import (
	_ "embed"
	"math"
	"strconv"
	"strings"
	"sync"
)

// Constituent is one cosine of the tide: how its argument counts the mean
// longitudes, and how the moon's node changes it.
type Constituent struct {
	Name         string  // Foreman's, upper case
	SpeedDegPerH float64 // mean speed
	Compound     bool    // made by shallow water of others

	count  [elements]float64 // multiples of tau, s, h, p, N', p1
	offset float64           // degrees added to the argument
	parts  []part            // of a compound
	sats   []satellite       // Foreman's
	law    law               // Schureman's
	rank   int               // 0 is the largest where two cannot be told apart
}

type part struct {
	of     *Constituent
	factor float64
}

// satellite is one neighbouring line that shares the band of a constituent:
// Foreman (1977), Table 5. latitude says how its ratio depends on it: 0 not, 1
// for diurnal and 2 for semidiurnal third-degree terms.
type satellite struct {
	p, n, p1, offset, ratio float64
	latitude                int
}

//go:embed data/constituents.csv
var constituentsCSV string

//go:embed data/satellites.csv
var satellitesCSV string

// library holds the constituents by name, and in the order of their speeds.
type library struct {
	byName map[string]*Constituent
	order  []*Constituent
}

var known = sync.OnceValue(readLibrary)

// aliases are other names in use (common practice, no source), each one thing.
var aliases = map[string]string{
	"LAM2": "LDA2", "LAMBDA2": "LDA2", "LMD2": "LDA2", "RHO": "RHO1", "SIGMA1": "SIG1", "SIG": "SIG1", "M1": "NO1",
	"TAU": "TAU1", "MP1": "TAU1", "ALPHA1": "ALP1", "BETA1": "BET1", "CHI": "CHI1", "PI": "PI1", "PSI": "PSI1",
	"PHI": "PHI1", "THETA1": "THE1", "UPSILON1": "UPS1", "EPSILON2": "EPS2", "GAMMA2": "GAM2", "NU": "NU2",
	"MU": "MU2", "ETA": "ETA2", "KJ2": "ETA2", "ALPHA2": "H1", "MA2": "H1", "BETA2": "H2", "MB2": "H2", "2N": "2N2",
	"2MS2": "MU2", "MN4": "MN4", "2SM": "2SM2", "SSA": "SSA", "MTM": "MFM",
}

// defaultNames are the 68 standard constituents of Foreman (1977), in the order
// in which one gives way to another it cannot be told from. The order follows
// the record lengths of his Table 1 (the constituent that he takes at the shorter
// length comes first) and, within one length, the size in the equilibrium tide.
const defaultNames = `M2 K1 O1 S2 MSF M4 M3 N2 M6 2MK5 M8 3MK7 MS4 MK3 2SK5 Q1 NO1 J1 OO1 2Q1 UPS1 MM MU2 L2 SK3 MO3
S4 MN4 2MS6 2SM6 2MN6 SN4 2N2 EPS2 ALP1 ETA2 P1 K2 SSA MF MSM NU2 RHO1 SIG1 TAU1 CHI1 BET1 THE1 PHI1 SO1 OQ2 LDA2
MKS2 MSN2 SO3 MK4 SK4 2MK6 MSK6 SA S1 PI1 PSI1 T2 H1 H2 R2 GAM2`

func readLibrary() *library {
	l := &library{byName: map[string]*Constituent{}}
	for _, f := range csvLines(constituentsCSV) {
		c := &Constituent{Name: f[0], Compound: f[3] == "shallow", rank: 1000 + len(l.order)}
		if !c.Compound {
			for i := range c.count {
				c.count[i] = number(f[4+i])
			}
			c.offset = 360 * number(f[10])
		}
		l.take(c)
	}
	for _, f := range csvLines(constituentsCSV) { // compounds are made of any of them
		for _, term := range strings.Fields(f[12]) {
			factor, name, _ := strings.Cut(term, "*")
			l.byName[f[0]].add(l.byName[name], number(factor))
		}
	}
	for _, f := range csvLines(satellitesCSV) {
		c := l.byName[f[0]]
		c.sats = append(c.sats, satellite{number(f[1]), number(f[2]), number(f[3]), 360 * number(f[4]), number(f[5]), int(number(f[6]))})
	}
	// One convention of arguments: V(Sa) = h, V(S1) = T, the hour angle of the mean sun.
	l.byName["SA"].count[solarP1] = 0
	s1 := l.byName["S1"]
	s1.count[solarP1], s1.offset = 0, 180
	// s1's satellite in p1 is relative to Foreman's argument T + p1 + 270°, which
	// differs from ours by an angle that hardly moves; its lag takes that up.
	for name, law := range laws {
		l.byName[name].law = law
	}
	l.take(&Constituent{Name: "MFM", count: [elements]float64{0, 3, 0, -1}, law: lawMf, rank: 900})
	l.take(&Constituent{Name: "MSQM", count: [elements]float64{0, 4, -2}, law: lawMf, rank: 901})
	for i, name := range strings.Fields(defaultNames) {
		l.byName[name].rank = i
	}
	return l
}

func (l *library) take(c *Constituent) {
	for i, k := range c.count {
		c.SpeedDegPerH += k * hourly[i]
	}
	l.byName[c.Name] = c
	l.order = append(l.order, c)
}

func (c *Constituent) add(of *Constituent, factor float64) {
	c.parts = append(c.parts, part{of, factor})
	for i := range c.count {
		c.count[i] += factor * of.count[i]
	}
	c.offset += factor * of.offset
	c.SpeedDegPerH += factor * of.SpeedDegPerH
}

func csvLines(text string) (lines [][]string) {
	for i, line := range strings.Split(strings.TrimSpace(text), "\n") {
		if i > 0 {
			lines = append(lines, strings.Split(strings.TrimSpace(line), ","))
		}
	}
	return lines
}

// number reads a number of the embedded tables; an empty cell is 0.
func number(s string) float64 {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return 0
	}
	return x
}

// Find gives the constituent of a name in any case: one of Foreman's list, an
// alias, or a compound written by its composition (2MK3, MSN2, 4MS10).
func Find(name string) (*Constituent, bool) {
	name = strings.ToUpper(strings.TrimSpace(name))
	l := known()
	if c, ok := l.byName[name]; ok {
		return c, true
	}
	if c, ok := l.byName[aliases[name]]; ok {
		return c, true
	}
	return compose(l, name)
}

// Names are the names of the list in the order of their speeds.
func Names() (names []string) {
	for _, c := range known().order {
		names = append(names, c.Name)
	}
	return names
}

// Argument is V, the equilibrium argument at Greenwich at hours from the epoch,
// in degrees.
func (c *Constituent) argument(k sky) float64 {
	v := c.offset
	for i, n := range c.count {
		if n != 0 {
			v += n * k[i]
		}
	}
	return v
}

// bases are the constituents that letters of a composed name stand for; K is
// the diurnal or the semidiurnal one, whichever gives the species.
var bases = []struct{ letters, one, two string }{
	{"LAM", "LDA2", ""}, {"LDA", "LDA2", ""}, {"NU", "NU2", ""}, {"MU", "MU2", ""}, {"RHO", "RHO1", ""},
	{"M", "M2", ""}, {"S", "S2", ""}, {"N", "N2", ""}, {"K", "K2", "K1"}, {"O", "O1", ""}, {"P", "P1", ""},
	{"Q", "Q1", ""}, {"L", "L2", ""}, {"J", "J1", ""}, {"T", "T2", ""}, {"R", "R2", ""},
}

type term struct {
	times    float64
	one, two string
}

// compose reads a name as multiples and letters with the species at the end:
// 2MK3 is 2 M2 − K1. Terms at the end are taken off, as few as give the species
// (2SM2 = 2 S2 − M2, MKS2 = M2 + K2 − S2), as the naming goes (common practice,
// no source). Names that fit no such sum are unknown.
func compose(l *library, name string) (*Constituent, bool) {
	body := strings.TrimRight(name, "0123456789")
	species, err := strconv.Atoi(name[len(body):])
	if err != nil || species < 1 || species > 14 || body == "" || len(body) > 12 {
		return nil, false
	}
	terms, ok := readTerms(body)
	if !ok || len(terms) == 0 || (len(terms) == 1 && terms[0].times < 2) {
		return nil, false
	}
	for minus := 0; minus < len(terms); minus++ {
		for _, diurnalK := range []bool{species%2 == 1, species%2 == 0} {
			c := &Constituent{Name: name, Compound: true, rank: 2000}
			for i, t := range terms {
				base := t.one
				if t.two != "" && diurnalK {
					base = t.two
				}
				if i >= len(terms)-minus {
					t.times = -t.times
				}
				c.add(l.byName[base], t.times)
			}
			if math.Abs(c.count[tau]-float64(species)) < 1e-9 {
				return c, true
			}
		}
	}
	return nil, false
}

func readTerms(body string) (terms []term, ok bool) {
	for body != "" {
		times := 1.0
		if body[0] >= '2' && body[0] <= '9' {
			times = float64(body[0] - '0')
			body = body[1:]
		}
		found := false
		for _, b := range bases {
			if rest, is := strings.CutPrefix(body, b.letters); is {
				terms = append(terms, term{times, b.one, b.two})
				body, found = rest, true
				break
			}
		}
		if !found {
			return nil, false
		}
	}
	return terms, true
}
