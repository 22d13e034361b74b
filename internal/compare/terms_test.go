package compare

import (
	"context"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/words"
)

// termsSeason reads testdata/terms.csv, an invented season with further columns drawn by terms.R.
func termsSeason(t testing.TB) []assay.Deployment {
	t.Helper()
	var all []assay.Deployment
	for _, l := range table(t, "testdata/terms.csv") {
		f := func(name string) float64 {
			x, err := strconv.ParseFloat(l[name], 64)
			if err != nil {
				t.Fatal(err)
			}
			return x
		}
		start := time.Date(2026, 6, int(f("day")), 9, 0, 0, 0, time.UTC)
		at := func(h float64) assay.Moment {
			return assay.Moment{At: start.Add(time.Duration(math.Round(h*3600)) * time.Second)}
		}
		all = append(all, assay.Deployment{
			ID: l["id"], Site: l["site"], Habitat: l["habitat"], SetOut: at(0), Baits: 25, Observers: l["observer"], BaitBatch: l["batch"],
			Covariates: map[string]string{"temp": l["temp"], "region": l["region"], "zone": l["zone"]},
			Checks: []assay.Check{
				{Number: 1, At: at(f("t1")), Consumed: assay.Some(int(f("c1"))), Lost: assay.Some(0)},
				{Number: 2, At: at(f("t2")), Consumed: assay.Some(int(f("c2"))), Lost: assay.Some(int(f("lost")))},
			},
		})
	}
	return all
}

var termModels = map[string]Options{
	"factors":      {Covariates: []string{"zone", "temp"}},
	"squared":      {Squared: []string{"temp"}},
	"curve":        {Curves: []string{"temp"}},
	"habitat,temp": {Together: []string{"habitat,temp"}},
	"habitat,zone": {Together: []string{"habitat,zone"}},
	"habitat,time": {Together: []string{"habitat,time"}},
	"split":        {Split: []string{"temp"}},
	// chains and crossed factors, asked for in any order
	"chain":          {Random: []string{"deployment", "date", "region", "site-habitat", "site"}},
	"crossed":        {Random: []string{"site", "observers", "site-habitat", "deployment", "bait_batch"}},
	"crossed-coarse": {Random: []string{"site", "observers"}},
}

// rName is the name that R gives a term of ours.
func rName(term string) string {
	parts := strings.Split(term, " with ")
	for i, p := range parts {
		switch {
		case p == "baseline":
			parts[i] = "(Intercept)"
		case p == "temp-squared":
			parts[i] = "I(temp^2)"
		case p == "temp-between":
			parts[i] = "tb"
		case p == "temp-within":
			parts[i] = "tw"
		default:
			parts[i] = strings.Replace(p, "=", "", 1)
		}
	}
	return strings.Join(parts, ":")
}

// TestTermsAgainstReference compares with glmmTMB 1.1.5 (testdata/terms.R):
// log-likelihoods and chi-squares to 0.01, estimates to 1e-3 (absolute where under 1),
// standard errors and SDs to 2e-3. A natural spline is the same space of curves in any
// basis, so the log-likelihood of R's own is compared, not its coefficients.
func TestTermsAgainstReference(t *testing.T) {
	ds := termsSeason(t)
	golden := map[string]map[string]float64{}
	for _, l := range table(t, "testdata/terms_golden.csv") {
		if golden[l["model"]] == nil {
			golden[l["model"]] = map[string]float64{}
		}
		v, err := strconv.ParseFloat(l["value"], 64)
		if err != nil {
			v = math.NaN()
		}
		golden[l["model"]][l["name"]] = v
	}
	for model, o := range termModels {
		t.Run(model, func(t *testing.T) {
			want := golden[model]
			if len(want) == 0 {
				t.Fatal("no golden values")
			}
			o.Bands, o.NoRepeat = "checks", true
			if o.Random == nil {
				o.Random = []string{"site", "site-habitat", "deployment"}
			}
			r, err := Run(context.Background(), ds, o)
			if err != nil {
				t.Fatal(err)
			}
			told(t, r.Messages)
			got := map[string]float64{"loglik": r.LogLik.Or(math.NaN()), "chi2:habitat": r.Test.Chi2.Or(math.NaN()), "chi2:bands": r.BandsTest.Chi2.Or(math.NaN())}
			for _, f := range r.Fixed {
				got[rName(f.Term)], got["se:"+rName(f.Term)] = f.Estimate.Or(math.NaN()), f.SE.Or(math.NaN())
			}
			for _, x := range r.TermTests {
				got["chi2:"+strings.Join(x.Terms, ",")] = x.Chi2.Or(math.NaN())
			}
			for _, s := range r.Random {
				name := map[string]string{"site": "site", "site-habitat": "sh", "deployment": "id", "date": "visit", "observers": "observer", "bait_batch": "batch"}[s.Group]
				if name == "" {
					name = s.Group
				}
				got["sd:"+name] = s.SD.Or(math.NaN())
			}
			for name, w := range want {
				if math.IsNaN(w) && strings.HasPrefix(name, "se:") {
					continue
				}
				tol := 1e-3 * math.Max(1, math.Abs(w))
				switch {
				case name == "loglik", strings.HasPrefix(name, "chi2"):
					tol = 0.01
				case strings.HasPrefix(name, "sd:") && w < 0.02:
					tol = 0.02
				case strings.HasPrefix(name, "se:"), strings.HasPrefix(name, "sd:"):
					tol = 2e-3
				}
				g, ok := got[name]
				if !ok {
					g, ok = got[swapped(name)]
				}
				if !ok || !(math.Abs(g-w) <= tol) {
					t.Errorf("%s = %.6g, reference %.6g", name, g, w)
				}
			}
		})
	}
}

// swapped is an interaction's name the other way round.
func swapped(name string) string {
	pre, name := "", name
	if s, ok := strings.CutPrefix(name, "se:"); ok {
		pre, name = "se:", s
	}
	a, b, _ := strings.Cut(name, ":")
	return pre + b + ":" + a
}

// TestSplineByHand: with knots 0, 1, 2 the bent function is, at 3, ((3)³ − 2·(2)³ +
// (1)³)/4 = 3, at 1 1/4, and beyond the last knot straight: 3 at 3, 4.5 at 4.
func TestSplineByHand(t *testing.T) {
	for x, want := range map[float64]float64{-1: 0, 0: 0, 1: 0.25, 2: 1.5, 3: 3, 4: 4.5} {
		if got := bend([]float64{0, 1, 2}, 0, x); math.Abs(got-want) > 1e-12 {
			t.Errorf("at %g: %g, want %g", x, got, want)
		}
	}
}

// TestCurveNeedsSites: with 8 sites the line is straight, which is said.
func TestCurveNeedsSites(t *testing.T) {
	r, err := Run(context.Background(), seasons(t)["crossed"], Options{Curves: []string{"temp"}, NoRepeat: true})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Contains(slugs(r), "curve-straight-sites") || len(r.Curves) > 0 {
		t.Errorf("messages %v, curves %v", slugs(r), r.Curves)
	}
}

func slugs(r *Result) (out []string) {
	for _, m := range r.Messages {
		out = append(out, m.Slug)
	}
	return out
}

// TestTypicalRow: with a pair taken together, the ratio told is that at the mean of the
// covariate: the factor's term plus the product's times the mean, worked from the terms.
// The mean of a row with a square stands at the square of the mean.
func TestTypicalRow(t *testing.T) {
	ds := termsSeason(t)
	mean := 0.0
	for _, d := range ds {
		x, _ := strconv.ParseFloat(d.Covariates["temp"], 64)
		mean += x / float64(len(ds))
	}
	r, err := Run(context.Background(), ds, Options{Together: []string{"habitat,temp"}, NoRepeat: true})
	if err != nil {
		t.Fatal(err)
	}
	term := map[string]float64{}
	for _, f := range r.Fixed {
		term[f.Term] = f.Estimate.Or(math.NaN())
	}
	want := math.Exp(term["habitat=reef"] + mean*term["habitat=reef with temp"])
	if got := r.Contrasts[0].RateRatio.Or(0); math.Abs(got/want-1) > 1e-9 || !slices.Contains(slugs(r), "ratio-at-mean") {
		t.Errorf("ratio %g, want %g; %v", got, want, slugs(r))
	}
	if r, err = Run(context.Background(), ds, Options{Squared: []string{"temp"}, NoRepeat: true}); err != nil {
		t.Fatal(err)
	}
	for _, f := range r.Fixed {
		term[f.Term] = f.Estimate.Or(math.NaN())
	}
	want = math.Exp(term["baseline"] + mean*term["temp"] + mean*mean*term["temp-squared"])
	if got := r.Means[0].RateTypicalPerH.Or(0); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("rate %g, want %g", got, want)
	}
}

// TestRatioOverTime: a season in which the ratio changes from 4 in the first hour to 1
// later is told so, with the ratio of each band; one in which it is constant is not.
// The average is the bands' log ratios weighted by the consumed baits.
func TestRatioOverTime(t *testing.T) {
	ds := changing(t, 4, 1)
	r, err := Run(context.Background(), ds, Options{NoRepeat: true})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Contains(slugs(r), "ratio-changes") || len(r.BandContrasts) != 2 {
		t.Fatalf("messages %v, %d ratios by band", slugs(r), len(r.BandContrasts))
	}
	for i, want := range []float64{0.25, 1} { // sand over reef
		b := r.BandContrasts[i]
		if lo, hi := b.Lower.Or(0), b.Upper.Or(0); lo > want || hi < want || hi > 3*lo {
			t.Errorf("band %d: %g to %g, want %g inside", b.Band, lo, hi, want)
		}
	}
	if b := r.BandContrasts; b[0].FromH.Or(9) != 0 || b[0].ToH.Or(9) != 1 || b[1].FromH.Or(9) != 1 || b[1].ToH.Or(9) != 9 {
		t.Errorf("bands %+v", b)
	}
	both, err := Run(context.Background(), ds, Options{NoRepeat: true, Together: []string{"habitat,time"}})
	if err != nil {
		t.Fatal(err)
	}
	if x, y := both.BandsTest.Chi2.Or(0), r.BandsTest.Chi2.Or(1); math.Abs(x-y) > 1e-5 {
		t.Errorf("chi-squared %g from the wide model, %g from the narrow", x, y)
	}
	var by [2]float64 // consumed in each band: every row is read at 1 h and 24 h exactly
	for _, d := range ds {
		by[0] += float64(d.Checks[0].Consumed.Or(0))
		by[1] += float64(d.Checks[1].Consumed.Or(0) - d.Checks[0].Consumed.Or(0))
	}
	c := both.BandContrasts
	want := math.Exp((by[0]*math.Log(c[0].RateRatio.Or(0)) + by[1]*math.Log(c[1].RateRatio.Or(0))) / (by[0] + by[1]))
	if got := both.Contrasts[0].RateRatio.Or(0); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("average %g, want %g", got, want)
	}
	if r, err = Run(context.Background(), changing(t, 2, 2), Options{NoRepeat: true}); err != nil {
		t.Fatal(err)
	}
	if slices.Contains(slugs(r), "ratio-changes") || len(r.BandContrasts) > 0 || r.BandsTest.DF != 1 {
		t.Errorf("a constant ratio: %v %+v", slugs(r), r.BandsTest)
	}
}

// changing is a season of 10 sites read at 1 h and 24 h: expected counts, rounded, at a
// ratio of reef over sand of first in the first hour, later after it.
func changing(t testing.TB, first, later float64) []assay.Deployment {
	t.Helper()
	var ds []assay.Deployment
	for s := range 10 {
		for h, habitat := range []string{"sand", "reef"} {
			for k := range 2 {
				site := math.Exp(0.4 * (float64(s) - 4.5) / 3)
				row := math.Exp(0.3 * (float64(k) - 0.5))
				r1, r2 := 0.15*site*row, 0.02*site*row
				if h == 1 {
					r1, r2 = r1*first, r2*later
				}
				y1 := int(math.Round(25 * -math.Expm1(-r1)))
				y2 := y1 + int(math.Round(float64(25-y1)*-math.Expm1(-23*r2)))
				ds = append(ds, row2(t, s, habitat, k, y1, y2))
			}
		}
	}
	return ds
}

func row2(_ testing.TB, site int, habitat string, k, y1, y2 int) assay.Deployment {
	id := strconv.Itoa(site) + habitat + strconv.Itoa(k)
	return row(id, "s"+strconv.Itoa(site), habitat, 25, []float64{1, 24}, []int{y1, y2}, nil, nil)
}

// TestCoincides: a habitat read by one observer alone, or set out before the other, is named.
func TestCoincides(t *testing.T) {
	ds := changing(t, 2, 2)
	for i := range ds {
		ds[i].Observers, ds[i].BaitBatch = "Ana", "b"+strconv.Itoa(i%2)
		if ds[i].Habitat == "reef" {
			ds[i].Observers = "Bo"
			ds[i].SetOut.At = ds[i].SetOut.At.AddDate(0, 0, 3+i%4)
			for k := range ds[i].Checks {
				ds[i].Checks[k].At.At = ds[i].Checks[k].At.At.AddDate(0, 0, 3+i%4)
			}
		}
	}
	r, err := Run(context.Background(), ds, Options{NoRepeat: true, Covariates: []string{"observers"}})
	if err != nil {
		t.Fatal(err)
	}
	told(t, r.Messages)
	var columns []string
	for _, m := range r.Messages {
		if m.Slug == "coincides" {
			columns = append(columns, m.With["column"].(string))
		}
	}
	// all sand rows were set out on one day, on which no reef row was; of batch b0 are
	// rows of both habitats
	if !slices.Equal(columns, []string{"date", "observers"}) || !slices.Contains(slugs(r), "dates-apart") {
		t.Errorf("coincide with %v; %v", columns, slugs(r))
	}
	for _, m := range r.Messages {
		if m.Slug == "aliased" && m.With["term"] == "observers=Bo" && m.With["other"] == "habitat=sand" {
			return
		}
	}
	t.Errorf("not said what observers=Bo is made of: %v", r.Messages)
}

// TestCoincidesEach: a habitat that coincides with a date, batch, observer, team or
// state of the tide, one at a time. The factor's own numbers are those of the fit
// without it; taken as a covariate it is left out by name, with the
// same likelihood, and no ratio is told, since a ratio at one and the same value of it
// cannot be known; taken as a random intercept, of which each value is a habitat, it has
// no spread and changes nothing.
func TestCoincidesEach(t *testing.T) {
	plain := changing(t, 2, 2)
	for i := range plain {
		plain[i].BaitBatch, plain[i].Observers, plain[i].Team = "b"+strconv.Itoa(i%2), []string{"Ana", "Bo"}[i%2], []string{"Kell", "Ormo"}[i/4%2]
		plain[i].Derived = map[string]float64{"tide_from_high_h": float64(i%5) - 2.5}
		shift(&plain[i], i%5)
	}
	clean, err := Run(context.Background(), plain, Options{NoRepeat: true})
	if err != nil {
		t.Fatal(err)
	}
	if slices.Contains(slugs(clean), "coincides") || slices.Contains(slugs(clean), "dates-apart") {
		t.Fatalf("%v", slugs(clean))
	}
	for column, change := range map[string]func(d *assay.Deployment, own string){
		"date": func(d *assay.Deployment, own string) {
			d.SetOut, d.Checks[0].At, d.Checks[1].At = at(0), at(1), at(24)
			if own == "reef" {
				shift(d, 9)
			}
		},
		"bait_batch": func(d *assay.Deployment, own string) { d.BaitBatch = own },
		"observers":  func(d *assay.Deployment, own string) { d.Observers = own },
		"team":       func(d *assay.Deployment, own string) { d.Team = own },
		tideState: func(d *assay.Deployment, own string) {
			d.Derived = map[string]float64{"tide_from_high_h": map[string]float64{"reef": -2, "sand": 3}[own]}
		},
	} {
		ds := slices.Clone(plain)
		for i := range ds {
			ds[i].Checks = slices.Clone(ds[i].Checks)
			change(&ds[i], ds[i].Habitat)
		}
		r, err := Run(context.Background(), ds, Options{NoRepeat: true})
		if err != nil {
			t.Fatal(err)
		}
		told(t, r.Messages)
		said := 0
		for _, m := range r.Messages {
			if m.Slug != "coincides" {
				continue
			}
			said++
			want := column
			if column == tideState {
				want = "the tide at setting out"
			}
			if text := m.In(words.English); !strings.Contains(text, "habitat and "+want+" go together (reef: ") || !strings.Contains(text, " and sand: ") {
				t.Errorf("%s: %s", column, text)
			}
		}
		if said != 1 {
			t.Errorf("%s: told %d times: %v", column, said, slugs(r))
		}
		same(t, clean, r, 1e-9) // what coincides changes no number
		if column == "date" || column == tideState {
			continue
		}
		with, err := Run(context.Background(), ds, Options{NoRepeat: true, Covariates: []string{column}})
		if err != nil {
			t.Fatal(err)
		}
		aliased := slices.ContainsFunc(with.Messages, func(m words.Message) bool {
			return m.Slug == "aliased" && m.With["term"] == column+"=sand" && m.With["other"] == "habitat=sand"
		})
		if !aliased || math.Abs(with.LogLik.Or(0)-r.LogLik.Or(1)) > 1e-8 || with.Contrasts[0].RateRatio.Known() || with.Contrasts[0].P.Known() {
			t.Errorf("%s as a covariate: %v; ratio %v, %v", column, slugs(with), with.Contrasts[0].RateRatio, r.Contrasts[0].RateRatio)
		}
		across, err := Run(context.Background(), ds, Options{NoRepeat: true, Random: []string{"site", "site-habitat", "deployment", column}})
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range across.Random {
			if s.Group == column && s.SD.Or(1) > 1e-3 {
				t.Errorf("%s as a random intercept has SD %v", column, s.SD)
			}
		}
		if math.Abs(across.LogLik.Or(0)-r.LogLik.Or(1)) > 1e-6 || math.Abs(across.Contrasts[0].RateRatio.Or(0)-r.Contrasts[0].RateRatio.Or(1)) > 1e-4 {
			t.Errorf("%s as a random intercept: loglik %v, %v", column, across.LogLik, r.LogLik)
		}
	}
}

// shift moves a row by so many days.
func shift(d *assay.Deployment, days int) {
	d.SetOut.At = d.SetOut.At.AddDate(0, 0, days)
	for k := range d.Checks {
		d.Checks[k].At.At = d.Checks[k].At.At.AddDate(0, 0, days)
	}
}

// TestWrongTerms: what cannot stand in one model is refused with its reason.
func TestWrongTerms(t *testing.T) {
	ds := termsSeason(t)
	for slug, o := range map[string]Options{
		"compare.one-shape":  {Squared: []string{"temp"}, Curves: []string{"temp"}},
		"compare.not-number": {Split: []string{"zone"}},
		"compare.pair":       {Together: []string{"habitat"}},
		"compare.twice":      {Covariates: []string{"habitat"}},
		"compare.as-words":   {AsWords: []string{"temp"}},
		"compare.no-column":  {Together: []string{"habitat,wind"}},
	} {
		_, err := Run(context.Background(), ds, o)
		if e, ok := err.(*OptionError); !ok || e.Slug != slug {
			t.Errorf("%s: %v", slug, err)
		}
	}
}

// TestRandomColumns: columns find their place in the chain or across it; few groups are
// offered as fixed; what cannot be is refused.
func TestRandomColumns(t *testing.T) {
	ds := termsSeason(t)
	r, err := Run(context.Background(), ds, Options{NoRepeat: true, Random: []string{"zone", "region", "site", "observers"}})
	if err != nil {
		t.Fatal(err)
	}
	told(t, r.Messages)
	var groups []string
	for _, s := range r.Random {
		groups = append(groups, s.Group+" "+strconv.Itoa(s.Levels))
	}
	if want := []string{"region 6", "site 30", "zone 3", "observers 7"}; !slices.Equal(groups, want) || !slices.Contains(slugs(r), "few-groups-fixed") {
		t.Errorf("%v, want %v; %v", groups, want, slugs(r))
	}
	for slug, o := range map[string]Options{
		"compare.quadrature-crossed": {Random: []string{"site", "observers"}, Quadrature: 5},
		"compare.twice":              {Random: []string{"site", "observers"}, Covariates: []string{"observers"}},
		"compare.no-column":          {Random: []string{"frog"}},
	} {
		if _, err := Run(context.Background(), ds, o); err == nil || err.(*OptionError).Slug != slug {
			t.Errorf("%s: %v", slug, err)
		}
	}
	// as many observers as rows do not cut across anything: they are the rows
	for i := range ds {
		ds[i].Covariates["tag"] = strconv.Itoa(i / 2 % 110)
	}
	if _, err := Run(context.Background(), ds, Options{Random: []string{"site", "tag"}}); err == nil || err.(*OptionError).Slug != "compare.random-many" {
		t.Errorf("110 values across the sites: %v", err)
	}
}

// TestProfileAgainstReference: profile limits of SDs and of the habitat by glmmTMB's own
// profile (testdata/profile.R), which interpolates between points: to 0.5 % of the limit, or 0.005.
// Where its profile breaks off (NA: four spreads that are hardly known) there is nothing to hold against.
func TestProfileAgainstReference(t *testing.T) {
	data := seasons(t)
	got := map[string]*Result{}
	held := 0
	for _, l := range table(t, "testdata/profile_golden.csv") {
		s := l["season"]
		if got[s] == nil {
			o := Options{Bands: "checks", NoRepeat: true, Profile: []string{"spread", "habitat=sand"}, Random: []string{"site", "site-habitat", "deployment"}}
			if s == "big" {
				o.Profile[1] = "habitat=reef"
			}
			if s == "between" {
				o.Random = []string{"site", "deployment"}
			}
			r, err := Run(context.Background(), data[s], o)
			if err != nil {
				t.Fatal(err)
			}
			got[s] = r
		}
		lower, upper := math.NaN(), math.NaN()
		for _, x := range got[s].Random {
			if l["what"] == map[string]string{"site": "site", "site-habitat": "sh", "deployment": "id"}[x.Group] {
				lower, upper = x.Lower.Or(math.NaN()), x.Upper.Or(math.NaN())
			}
		}
		for _, x := range got[s].Fixed {
			if l["what"] == rName(x.Term) {
				lower, upper = x.ProfileLower.Or(math.NaN()), x.ProfileUpper.Or(math.NaN())
			}
		}
		for name, g := range map[string]float64{"lower": lower, "upper": upper} {
			w, err := strconv.ParseFloat(l[name], 64)
			if err != nil || math.IsNaN(w) {
				continue
			}
			held++
			if !(math.Abs(g-w) <= math.Max(0.005, 0.005*math.Abs(w))) {
				t.Errorf("%s %s: %s %.5f, reference %s", s, l["what"], name, g, l[name])
			}
		}
	}
	if held != 14 {
		t.Errorf("%d limits were held against the reference, want 14", held)
	}
}
