package report

import (
	"soakline/internal/compare"
	"soakline/internal/methods"
)

// PaperTables are the tables that a paper needs: who entered, what was read,
// and the numbers of the comparison.
func PaperTables(in Input) []Table {
	f := methods.FactsOf(methodsInput(in))
	out := []Table{tableSample(f), tableSoaks(f), tableExcluded(f)}
	if k := in.Compare; k != nil {
		out = append(out, tidyMeans(k), tidyContrasts(k), tidyTerms(k), tableSpreads(k), tableTest(k))
		if len(in.Variants) > 0 {
			out = append(out, tableSensitivity(in))
		}
		if len(k.Controls.Loss) > 0 {
			out = append(out, tableControls(k))
		}
	}
	return out
}

func tableSample(f methods.Facts) Table {
	t := Table{Name: "sample", Columns: columns("habitat", "sites", "deployments", "baits_deployed", "consumed", "lost")}
	for _, g := range f.Groups {
		t.Lines = append(t.Lines, []any{g.Habitat, g.Sites, g.Rows, g.Baits, g.Consumed, g.Lost})
	}
	return t
}

func tableSoaks(f methods.Facts) Table {
	t := Table{Name: "soaks", Columns: columns("check", "nominal_h", "tolerance_h", "checks_read", "checks_off_nominal", "median_soak_h", "shortest_soak_h", "longest_soak_h", "consumed", "lost", "unread")}
	for _, c := range f.Checks {
		t.Lines = append(t.Lines, []any{c.Check, value(c.NominalH), value(c.ToleranceH), c.Read, c.Off, c.MedianH, c.ShortestH, c.LongestH, c.Consumed, c.Lost, c.Unread})
	}
	return t
}

func tableExcluded(f methods.Facts) Table {
	t := Table{Name: "excluded", Columns: columns("deployment_id", "slug")}
	for _, e := range f.Excluded {
		for _, id := range e.IDs {
			t.Lines = append(t.Lines, []any{id, e.Slug})
		}
	}
	return t
}

func tableSpreads(k *compare.Result) Table {
	t := Table{Name: "random", Columns: columns("random_group", "levels", "sd")}
	for _, s := range k.Random {
		t.Lines = append(t.Lines, []any{s.Group, s.Levels, value(s.SD)})
	}
	return t
}

func tableTest(k *compare.Result) Table {
	t := Table{Name: "test", Columns: columns("by", "chi2", "df", "p", "p_bootstrap", "p_bootstrap_lower", "p_bootstrap_upper", "replicates", "failed", "smallest_p", "loglik", "aic")}
	t.Lines = append(t.Lines, []any{k.By, value(k.Test.Chi2), k.Test.DF, value(k.Test.P), value(k.Test.PBootstrap), value(k.Test.PBootstrapLower), value(k.Test.PBootstrapUpper), k.Test.Replicates, k.Test.Failed, value(k.Test.SmallestP), value(k.LogLik), value(k.AIC)})
	return t
}

func tableSensitivity(in Input) Table {
	t := Table{Name: "sensitivity", Columns: columns("variant", "site", "deployments", "a", "b", "rate_ratio", "odds_ratio", "lower", "upper", "p_adjusted", "test_p", "conclusion_turns")}
	for _, v := range in.Variants {
		turns := "no"
		if compare.Turns(in.Compare, v.Result) {
			turns = "yes"
		}
		line := func(a, b string, c compare.Contrast) {
			t.Lines = append(t.Lines, []any{v.Slug, v.Site, v.Result.Deployments, a, b, value(c.RateRatio), value(c.OddsRatio), value(c.Lower), value(c.Upper), value(c.PAdjusted), value(v.Result.Test.P), turns})
		}
		for _, c := range v.Result.Contrasts {
			line(c.A, c.B, c)
		}
		if len(v.Result.Contrasts) == 0 {
			line("", "", compare.Contrast{})
		}
	}
	return t
}

func tableControls(k *compare.Result) Table {
	t := Table{Name: "controls", Columns: columns("kind", "check", "soak_h", "deployments", "baits_known", "consumed", "proportion", "lower", "upper", "bound")}
	for _, c := range k.Controls.Loss {
		t.Lines = append(t.Lines, []any{c.Kind, c.Check, c.SoakH, c.Deployments, c.Baits, c.Consumed, value(c.Proportion), value(c.Lower), value(c.Upper), string(c.Bound)})
	}
	return t
}
