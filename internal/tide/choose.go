package tide

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// selection is which constituents a span can tell apart.
type selection struct {
	fitted   []*Constituent
	inferred []inferred
	messages []Message
}

type inferred struct {
	c, from        *Constituent
	ratio, lagDiff float64
}

// daysToSeparate is the span needed to tell two speeds (degrees an hour) apart.
func daysToSeparate(a, b, rayleigh float64) int {
	d := math.Abs(a - b)
	if d < 1e-9 {
		return 0
	}
	return int(math.Ceil(rayleigh * 360 / d / 24))
}

// choose takes the candidates from the largest on. One is fitted when it is at
// least the Rayleigh number of cycles away, over the span in hours, from the mean
// and from every larger candidate, fitted or not: next to a larger one that could
// not be fitted it would take that one's water.
func choose(o Analysing, span float64) (*selection, error) {
	s := &selection{}
	asked := o.Constituents != nil
	names := o.Constituents
	if !asked {
		names = strings.Fields(defaultNames)
	}
	list, err := candidates(names)
	if err != nil {
		return nil, err
	}
	if list, err = s.infer(o, list); err != nil {
		return nil, err
	}
	var out []string
	for i, c := range list {
		from, least := "Z0", c.SpeedDegPerH
		for _, larger := range list[:i] {
			if d := math.Abs(c.SpeedDegPerH - larger.SpeedDegPerH); d < least {
				from, least = larger.Name, d
			}
		}
		if least*span/360 >= o.Rayleigh {
			s.fitted = append(s.fitted, c)
			continue
		}
		days := daysToSeparate(least, 0, o.Rayleigh)
		if asked {
			s.messages = append(s.messages, say("tide.not-separated", "name", c.Name, "from", from, "days", days))
		} else {
			out = append(out, fmt.Sprintf("%s (%d)", c.Name, days))
		}
	}
	if len(s.fitted) == 0 {
		return nil, refuse("tide.too-short", "hours", math.Round(span*10)/10, "days", daysToSeparate(list[0].SpeedDegPerH, 0, o.Rayleigh))
	}
	for _, in := range s.inferred {
		if !slices.Contains(s.fitted, in.from) {
			return nil, refuse("tide.infer-from", "name", in.c.Name, "from", in.from.Name)
		}
	}
	if len(out) > 0 {
		s.messages = append(s.messages, say("tide.too-short-for", "names", out))
	}
	s.inside(o, span, asked)
	return s, nil
}

// candidates are the constituents of names, the largest first.
func candidates(names []string) ([]*Constituent, error) {
	var list []*Constituent
	for _, n := range names {
		c, ok := Find(n)
		if !ok {
			return nil, refuse("tide.unknown-constituent", "name", n)
		}
		if c.Name == "Z0" {
			continue // the mean is always fitted
		}
		if slices.ContainsFunc(list, func(k *Constituent) bool { return k.Name == c.Name }) {
			return nil, refuse("tide.constituent-twice", "name", n)
		}
		list = append(list, c)
	}
	if len(list) == 0 {
		return nil, refuse("tide.no-constituents")
	}
	slices.SortStableFunc(list, func(a, b *Constituent) int { return a.rank - b.rank })
	return list, nil
}

// infer takes the inferred constituents out of the candidates.
func (s *selection) infer(o Analysing, list []*Constituent) ([]*Constituent, error) {
	for _, in := range o.Infer {
		c, ok := Find(in.Name)
		from, okFrom := Find(in.From)
		switch {
		case !ok:
			return nil, refuse("tide.unknown-constituent", "name", in.Name)
		case !okFrom:
			return nil, refuse("tide.unknown-constituent", "name", in.From)
		case !(in.Ratio > 0 && in.Ratio < 100) || !(math.Abs(in.LagDiffDeg) <= 720):
			return nil, refuse("tide.infer-values", "name", in.Name)
		case slices.ContainsFunc(s.inferred, func(k inferred) bool { return k.c.Name == c.Name }):
			return nil, refuse("tide.constituent-twice", "name", in.Name)
		}
		i := slices.IndexFunc(list, func(k *Constituent) bool { return k.Name == from.Name })
		if i < 0 || c.Name == from.Name {
			return nil, refuse("tide.infer-from", "name", in.Name, "from", in.From)
		}
		s.inferred = append(s.inferred, inferred{c, list[i], in.Ratio, in.LagDiffDeg})
		list = slices.DeleteFunc(list, func(k *Constituent) bool { return k.Name == c.Name })
	}
	return list, nil
}

// inside names P1 and K2 where they stay inside K1 and S2.
func (s *selection) inside(o Analysing, span float64, asked bool) {
	has := func(name string) bool {
		return slices.ContainsFunc(s.fitted, func(c *Constituent) bool { return c.Name == name }) ||
			slices.ContainsFunc(s.inferred, func(k inferred) bool { return k.c.Name == name })
	}
	for _, pair := range [][2]string{{"P1", "K1"}, {"K2", "S2"}} {
		a, _ := Find(pair[0])
		b, _ := Find(pair[1])
		if has(pair[0]) || !has(pair[1]) || math.Abs(a.SpeedDegPerH-b.SpeedDegPerH)*span/360 >= o.Rayleigh {
			continue
		}
		days := daysToSeparate(a.SpeedDegPerH, b.SpeedDegPerH, o.Rayleigh)
		s.messages = append(s.messages, say("tide.stays-inside", "name", a.Name, "from", b.Name, "days", days))
		if asked { // one message for it is enough
			s.messages = slices.DeleteFunc(s.messages, func(m Message) bool {
				return m.Slug == "tide.not-separated" && m.With["name"] == a.Name
			})
		}
	}
}
