package report

import (
	"strings"

	"soakline/internal/words"
)

// methods writes the methods paragraph for what was really done, with the
// works it rests on.
func methods(in Input) (paragraphs, references []string) {
	l := in.Lang
	say := func(slug string, with words.P) { paragraphs = append(paragraphs, l.Say(slug, with)) }
	say("methods.rows", words.P{"baits": in.Usual.Baits, "spacing": in.Usual.SpacingM, "share": in.Usual.ConsumedFraction, "soaks": soakList(in)})
	say("methods.risk", words.P{"level": in.Conf})
	references = append(references,
		"Wilson, E. B. (1927). Probable inference, the law of succession, and statistical inference. Journal of the American Statistical Association 22: 209–212.",
		"Turnbull, B. W. (1976). The empirical distribution function with arbitrarily grouped, censored and truncated data. Journal of the Royal Statistical Society B 38: 290–295.")
	k := in.Compare
	if k == nil {
		return paragraphs, references
	}
	var random []string
	for _, s := range k.Random {
		random = append(random, l.Say("random."+s.Group, nil))
	}
	with := words.P{"by": k.By, "n": k.Deployments, "sites": k.Sites, "intervals": k.Intervals, "random": random}
	switch {
	case k.Family == "betabinomial":
		say("methods.betabinomial", with)
	case k.Link == "logit":
		say("methods.logit", with)
	default:
		slug := "methods.model"
		if k.Bands == "checks" {
			slug = "methods.model-checks"
		}
		say(slug, with)
		references = append(references, "Prentice, R. L. & Gloeckler, L. A. (1978). Regression analysis of grouped survival data with application to breast cancer data. Biometrics 34: 57–67.")
	}
	if k.Quadrature > 1 {
		say("methods.quadrature", words.P{"n": k.Quadrature})
	} else {
		say("methods.laplace", nil)
	}
	references = append(references, "Breslow, N. E. & Clayton, D. G. (1993). Approximate inference in generalized linear mixed models. Journal of the American Statistical Association 88: 9–25.")
	if k.Test.Replicates > 0 {
		say("methods.bootstrap", words.P{"n": k.Test.Replicates, "failed": k.Test.Failed})
		references = append(references, "Davison, A. C. & Hinkley, D. V. (1997). Bootstrap methods and their application. Cambridge University Press.")
	}
	if len(k.Contrasts) > 1 && k.Adjust == "holm" {
		say("methods.holm", words.P{"n": len(k.Contrasts)})
		references = append(references, "Holm, S. (1979). A simple sequentially rejective multiple test procedure. Scandinavian Journal of Statistics 6: 65–70.")
	}
	for _, t := range k.Fixed {
		if t.Shrunk.Known() {
			say("methods.separation", nil)
			references = append(references, "Firth, D. (1993). Bias reduction of maximum likelihood estimates. Biometrika 80: 27–38.")
			break
		}
	}
	say("methods.software", words.P{"version": in.Version, "seed": int(k.Seed), "hash": in.Hash})
	return paragraphs, references
}

func soakList(in Input) string {
	var s []string
	for _, c := range in.Usual.Checks {
		s = append(s, SoakWords(c.SoakH))
	}
	return strings.Join(s, ", ")
}
