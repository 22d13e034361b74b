package report

import (
	"math"
	"sort"

	"soakline/internal/compare"
	"soakline/internal/words"
)

// Answer is the first layer: what came out, in plain sentences.
type Answer struct {
	Shares  string   // how many of 100 were gone, group by group
	Chance  string   // how often such a difference comes by chance
	Pairs   []string // which went faster than which
	Caution string   // why the chance is too small a number, where it is
	Clear   bool     // the groups are told apart at the result's level
}

// Answers puts a comparison into the words of the first layer.
func Answers(l words.Language, k *compare.Result) Answer {
	var a Answer
	if k == nil || !k.Converged {
		return Answer{Shares: l.Say("answer.none", nil)}
	}
	a.Shares = shares(l, k)
	if p, replicates, ok := headline(k); ok {
		a.Clear = p < 1-k.ConfLevel
		verdict := "answer.alike"
		switch {
		case p < (1-k.ConfLevel)/5:
			verdict = "answer.clear"
		case a.Clear:
			verdict = "answer.likely"
		}
		a.Chance = l.Say(verdict, words.P{"chance": Chance(l, p, replicates)})
	} else if len(k.Levels) == 1 {
		a.Chance = l.Say("answer.one-level", words.P{"level": k.Levels[0].Level})
	}
	a.Pairs = pairs(l, k)
	for _, m := range k.Messages {
		if m.Slug == "test-too-optimistic" {
			a.Caution = l.Say("answer.optimistic", words.P{"sites": k.Sites})
		}
	}
	return a
}

// headline is the p that is told first: the calibrated one where there is one.
func headline(k *compare.Result) (p float64, replicates int, ok bool) {
	first, simulated := k.Headline()
	if simulated {
		replicates = k.Test.Replicates
	}
	p, ok = first.Get()
	return p, replicates, ok
}

// Chance writes a p as a frequency: "4 in 1,000".
func Chance(l words.Language, p float64, replicates int) string {
	switch {
	case replicates > 0 && p <= 1.5/float64(replicates+1), p < 0.001:
		of := 1000
		if replicates > 0 && replicates < 999 {
			of = replicates + 1
		}
		return l.Say("answer.fewer", words.P{"of": of})
	case p < 0.0095:
		return l.Say("answer.in", words.P{"n": int(math.Round(1000 * p)), "of": 1000})
	}
	return l.Say("answer.in", words.P{"n": int(math.Round(100 * p)), "of": 100})
}

// shares tells the groups by what was gone, most first, at the last nominal soak.
func shares(l words.Language, k *compare.Result) string {
	soak := 0.0
	for _, m := range k.Means {
		soak = math.Max(soak, m.SoakH)
	}
	var at []compare.Mean
	for _, m := range k.Means {
		if m.SoakH == soak && m.Proportion.Known() {
			at = append(at, m)
		}
	}
	if len(at) == 0 {
		return l.Say("answer.none", nil)
	}
	sort.SliceStable(at, func(i, j int) bool { return at[i].Proportion.Or(0) > at[j].Proportion.Or(0) })
	list := words.List{}
	for i, m := range at {
		slug := "answer.share-more"
		if i == 0 {
			slug = "answer.share"
		}
		list = append(list, words.Ref{Slug: slug, With: words.P{"n": 100 * m.Proportion.Or(0), "level": m.Level}})
	}
	return l.Say("answer.shares", words.P{"soak": SoakWords(soak), "list": list})
}

// pairs tells which group's baits went faster than which, and which two are
// not told apart; the family of pairs is taken together (Holm).
func pairs(l words.Language, k *compare.Result) []string {
	var out []string
	for _, c := range k.Contrasts {
		p, _ := c.Headline() // the simulated one where there is one
		q := p.Or(math.NaN())
		ratio, ok := c.RateRatio.Get()
		lo, hi := c.HeadlineLimits()
		a, b := c.A, c.B
		switch {
		case !ok && c.Bound == compare.UpperBound && hi.Known():
			out = append(out, l.Say("answer.pair-at-most", words.P{"a": a, "b": b, "ratio": hi.Or(0)}))
			out = append(out, overTime(l, k, c)...)
			continue
		case !ok && c.Bound == compare.LowerBound && lo.Known():
			out = append(out, l.Say("answer.pair-at-least", words.P{"a": a, "b": b, "ratio": lo.Or(0)}))
			out = append(out, overTime(l, k, c)...)
			continue
		case !ok:
			continue
		}
		if !lo.Known() || !hi.Known() {
			out = append(append(out, l.Say("answer.pair-open", words.P{"a": a, "b": b, "ratio": ratio})), overTime(l, k, c)...)
			continue
		}
		lower, upper := lo.Or(0), hi.Or(0)
		if ratio < 1 && lower > 0 {
			a, b, ratio, lower, upper = b, a, 1/ratio, 1/upper, 1/lower
		}
		slug := "answer.pair-alike"
		if q < 1-k.ConfLevel {
			slug = "answer.pair"
		}
		out = append(out, l.Say(slug, words.P{"a": a, "b": b, "ratio": ratio, "lower": lower, "upper": upper}))
		out = append(out, overTime(l, k, c)...)
	}
	return out
}

// overTime says, where the ratio of a pair changed with time, that the one ratio is
// an average, and what it was in each stretch: the way round in which the pair was
// told.
func overTime(l words.Language, k *compare.Result, c compare.Contrast) []string {
	turned := c.RateRatio.Or(1) < 1
	if lo, _ := c.HeadlineLimits(); lo.Or(0) <= 0 {
		turned = false
	}
	list := words.List{}
	for _, b := range k.BandContrasts {
		if b.A != c.A || b.B != c.B {
			continue
		}
		slug, x := "answer.pair-band-none", 0.0
		switch v, ok := b.RateRatio.Get(); {
		case ok:
			slug, x = "answer.pair-band", v
		case b.Bound == compare.UpperBound && b.Upper.Known():
			slug, x = "answer.pair-band-at-most", b.Upper.Or(0)
		case b.Bound == compare.LowerBound && b.Lower.Known():
			slug, x = "answer.pair-band-at-least", b.Lower.Or(0)
		}
		if turned && x > 0 {
			x = 1 / x
			if other, ok := map[string]string{"answer.pair-band-at-most": "answer.pair-band-at-least", "answer.pair-band-at-least": "answer.pair-band-at-most"}[slug]; ok {
				slug = other
			}
		}
		list = append(list, words.Ref{Slug: slug, With: words.P{"ratio": x, "time": BandWords(l, b)}})
	}
	if len(list) == 0 {
		return nil
	}
	return []string{l.Say("answer.pair-bands", words.P{"list": list})}
}
