package compare

import (
	"context"
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/internal/assay"
)

// seasons reads testdata/seasons.csv: invented seasons drawn by golden.R.
func seasons(t testing.TB) map[string][]assay.Deployment {
	t.Helper()
	lines := table(t, "testdata/seasons.csv")
	all := map[string][]assay.Deployment{}
	start := time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)
	for _, l := range lines {
		f := func(name string) float64 {
			x, err := strconv.ParseFloat(l[name], 64)
			if err != nil {
				t.Fatal(err)
			}
			return x
		}
		at := func(h float64) assay.Moment {
			return assay.Moment{At: start.Add(time.Duration(math.Round(h*3600)) * time.Second)}
		}
		lost := int(f("lost"))
		all[l["season"]] = append(all[l["season"]], assay.Deployment{
			ID: l["id"], Site: l["site"], Habitat: l["habitat"], SetOut: at(0), Baits: 25,
			Covariates: map[string]string{"temp": l["temp"]},
			Checks: []assay.Check{
				{Number: 1, At: at(f("t1")), Consumed: assay.Some(int(f("c1"))), Lost: assay.Some(0)},
				{Number: 2, At: at(f("t2")), Consumed: assay.Some(int(f("c2"))), Lost: assay.Some(lost)},
			},
		})
	}
	return all
}

func table(t testing.TB, name string) []map[string]string {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(b))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = r[i]
		}
		out = append(out, m)
	}
	return out
}

// TestAgainstReference compares with glmmTMB 1.1.5 (testdata/golden.R): five
// seasons, four models each. Tolerances: 1e-3 of an estimate (absolute where it
// is under 1) and 0.01 in log-likelihood, what two optimisers of one Laplace
// objective may differ by; 2e-3 for standard deviations and standard errors,
// whose surface is flatter. Near zero an SD may be reported as a small number by
// the reference and as 0 here: the likelihood is then the same to 0.01.
func TestAgainstReference(t *testing.T) {
	data := seasons(t)
	type key struct{ season, model string }
	golden := map[key]map[string]float64{}
	for _, l := range table(t, "testdata/golden.csv") {
		k := key{l["season"], l["model"]}
		if golden[k] == nil {
			golden[k] = map[string]float64{}
		}
		v, err := strconv.ParseFloat(l["value"], 64)
		if err != nil {
			v = math.NaN()
		}
		golden[k][l["name"]] = v
	}
	for k, want := range golden {
		t.Run(k.season+"/"+k.model, func(t *testing.T) {
			o := Options{Bands: "checks", Random: []string{"site", "site-habitat", "deployment"}, NoRepeat: true}
			if k.season == "between" {
				o.Random = []string{"site", "deployment"}
			}
			switch k.model {
			case "covariate":
				o.Covariates = []string{"temp"}
			case "logit":
				o.Link = "logit"
			case "betabinomial":
				o.Link, o.Family, o.Check, o.Random = "logit", "betabinomial", 2, []string{"site"}
			}
			r, err := Run(context.Background(), data[k.season], o)
			if err != nil {
				t.Fatal(err)
			}
			got := map[string]float64{"loglik": r.LogLik.Or(math.NaN()), "chi2": r.Test.Chi2.Or(math.NaN())}
			for _, f := range r.Fixed {
				name := strings.Replace(f.Term, "habitat=", "habitat", 1)
				if name == "baseline" {
					name = "(Intercept)"
				}
				got[name], got["se:"+name] = f.Estimate.Or(math.NaN()), f.SE.Or(math.NaN())
			}
			for _, s := range r.Random {
				got["sd:"+map[string]string{"site": "site", "site-habitat": "sh", "deployment": "id"}[s.Group]] = s.SD.Or(math.NaN())
			}
			for name, w := range want {
				g := got[name]
				tol := 1e-3 * math.Max(1, math.Abs(w))
				switch {
				case name == "loglik", name == "chi2":
					tol = 0.01
				case strings.HasPrefix(name, "sd:") && w < 0.02:
					tol = 0.02
				case strings.HasPrefix(name, "se:"), strings.HasPrefix(name, "sd:"):
					tol = 2e-3
				}
				if math.IsNaN(w) && strings.HasPrefix(name, "se:") {
					continue // the reference's Hessian is singular where an SD is zero
				}
				if !(math.Abs(g-w) <= tol) {
					t.Errorf("%s = %.6g, reference %.6g", name, g, w)
				}
			}
		})
	}
}

func BenchmarkCompare400(b *testing.B) {
	var ds []assay.Deployment
	for _, d := range seasons(b)["big"] {
		for i := range 2 {
			e := d
			e.ID, e.Site = d.ID+strconv.Itoa(i), d.Site+strconv.Itoa(i)
			ds = append(ds, e)
		}
	}
	ds = ds[:400]
	for b.Loop() {
		if _, err := Run(context.Background(), ds, Options{NoRepeat: true}); err != nil {
			b.Fatal(err)
		}
	}
}

// drawn is the season of tools/performance: 4 rows in each of 2 habitats at n/8 sites, SDs of
// 0.5, 0.3 and 0.4, soaks off nominal, 2 % of the baits lost.
func drawn(n int) (ds []assay.Deployment) {
	rng := rand.New(rand.NewPCG(20260101, uint64(n)))
	draw := func(n int, p float64) (k int) {
		for range n {
			if rng.Float64() < p {
				k++
			}
		}
		return k
	}
	start := time.Date(2026, 5, 1, 8, 0, 0, 0, time.UTC)
	for site := 0; len(ds) < n; site++ {
		us := 0.5 * rng.NormFloat64()
		for h, habitat := range []string{"reef", "sand"} {
			uh := 0.3 * rng.NormFloat64()
			for range 4 {
				rate := []float64{0.3, 0.15}[h] * math.Exp(us+uh+0.4*rng.NormFloat64())
				t1, t2 := 3600+rng.IntN(900), 24*3600+rng.IntN(3600)
				c1 := draw(25, -math.Expm1(-rate*float64(t1)/3600))
				lost := draw(25-c1, 0.02)
				y2 := draw(25-c1-lost, -math.Expm1(-0.2*rate*float64(t2-t1)/3600))
				at := start.Add(time.Duration(len(ds)) * time.Hour)
				moment := func(s int) assay.Moment { return assay.Moment{At: at.Add(time.Duration(s) * time.Second)} }
				ds = append(ds, assay.Deployment{ID: "D" + strconv.Itoa(len(ds)+1), Site: "site " + strconv.Itoa(site), Habitat: habitat, SetOut: moment(0), Baits: 25,
					Checks: []assay.Check{{Number: 1, At: moment(t1), Consumed: assay.Some(c1), Lost: assay.Some(0)},
						{Number: 2, At: moment(t2), Consumed: assay.Some(c1 + y2), Lost: assay.Some(lost)}}})
			}
		}
	}
	return ds[:n]
}

// benchmarkCompare is what the command does with tools/performance's sheets, reading and
// judging aside.
func benchmarkCompare(b *testing.B, n int) {
	ds := drawn(n)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Run(context.Background(), ds, Options{Bands: "checks"}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCompare2000(b *testing.B)   { benchmarkCompare(b, 2000) }
func BenchmarkCompare10000(b *testing.B)  { benchmarkCompare(b, 10000) }
func BenchmarkCompare100000(b *testing.B) { benchmarkCompare(b, 100000) }
