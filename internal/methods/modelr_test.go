package methods_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/methods"
	"soakline/internal/outside"
	"soakline/internal/sheet"
)

// row is one row of 25 baits with its counts at the checks.
func row(n int, site, habitat string, temperature float64, consumed ...int) assay.Deployment {
	at := time.Date(2025, 7, 1+n%20, 8, n%50, 0, 0, time.UTC)
	d := assay.Deployment{ID: fmt.Sprintf("D%d", n), Site: site, Habitat: habitat, SetOut: assay.Moment{At: at}, Baits: 25,
		TemperatureC: assay.Some(temperature), Covariates: map[string]string{"shore": []string{"open", "sheltered"}[n%2]}}
	for k, c := range consumed {
		soak := []float64{1, 24}[k] + float64(n%3)/20
		d.Checks = append(d.Checks, assay.Check{Number: k + 1, At: assay.Moment{At: at.Add(time.Duration(soak * float64(time.Hour)))}, Consumed: assay.Some(c), Lost: assay.Some(0)})
	}
	return d
}

// shore is an invented season: four sites, three habitats, two rows in each.
func shore() []assay.Deployment {
	var out []assay.Deployment
	first := []int{3, 7, 1, 4, 9, 2, 6, 8, 0, 5, 12, 3, 2, 10, 1, 7, 6, 2, 4, 9, 3, 8, 11, 1}
	for n, a := range first {
		out = append(out, row(n, []string{"Kell", "Ormo", "Pinta", "Zale"}[n/6], []string{"mud", "reef", "sand"}[n%3], 14+float64(n*7%11)/2, a, min(25, a+4+n*5%12)))
	}
	return out
}

func refit(t *testing.T, ds []assay.Deployment, o compare.Options) *compare.Refit {
	t.Helper()
	o.Protocols, _ = sheet.Protocols()
	o.Default, o.Seed = sheet.DefaultProtocol, 1
	r, err := compare.ForRefit(context.Background(), ds, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// run writes the script with its frame and runs it.
func run(t *testing.T, rscript string, r *compare.Refit) (string, error) {
	t.Helper()
	dir := t.TempDir()
	frame, err := methods.FrameCSV(r)
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{methods.FrameName: frame, "model.R": methods.ModelR(r, `An "invented" season`, true)} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	c := exec.Command(rscript, "--vanilla", filepath.Join(dir, "model.R"))
	c.Dir = t.TempDir() // from another folder than its own
	said, err := c.CombinedOutput()
	return string(said), err
}

// An empty session of R finds the same numbers with glmmTMB, an independent
// program, and says what it does not find.
func TestRFindsTheSame(t *testing.T) {
	rscript := outside.R(t, "glmmTMB")
	separated := shore()
	for i := range separated {
		if separated[i].Habitat == "sand" {
			for k := range separated[i].Checks {
				separated[i].Checks[k].Consumed = assay.Some(0)
			}
		}
	}
	for name, c := range map[string]struct {
		ds   []assay.Deployment
		o    compare.Options
		says []string
	}{
		"plain":      {shore(), compare.Options{}, []string{"SD of", "likelihood ratio", "time bands at the nominal soaks"}},
		"covariates": {shore(), compare.Options{Covariates: []string{"shore"}, Squared: []string{"temperature_c"}, Together: []string{"shore,habitat"}, Random: []string{"deployment"}, Reference: "sand", Quadrature: 9}, []string{"temperature_c-squared ", "shore=sheltered", "with ", "quadrature with 9"}},
		"logit":      {shore(), compare.Options{Link: "logit", Check: 1, Random: []string{"site"}}, []string{"habitat=reef"}},
		"separated":  {separated, compare.Options{}, []string{"habitat=sand: no finite maximum", "intervals at the limit"}},
	} {
		t.Run(name, func(t *testing.T) {
			said, err := run(t, rscript, refit(t, c.ds, c.o))
			if err != nil || !strings.Contains(said, "All within tolerance.") {
				t.Fatalf("%v\n%s", err, said)
			}
			for _, s := range c.says {
				if !strings.Contains(said, s) {
					t.Errorf("says nothing of %q:\n%s", s, said)
				}
			}
		})
	}
}

// A number of ours that is off, by a tenth of its standard error, and a column
// that is not what it says, are found.
func TestRFindsWhatIsOff(t *testing.T) {
	rscript := outside.R(t, "glmmTMB")
	r := refit(t, shore(), compare.Options{})
	t1 := &r.Result.Fixed[2]
	t1.Estimate = assay.Some(t1.Estimate.Or(0) + 0.1*t1.SE.Or(0))
	r.Lines[4].X[1] = 1 - r.Lines[4].X[1]
	said, err := run(t, rscript, r)
	if code, ok := err.(*exec.ExitError); !ok || code.ExitCode() != 1 || !strings.Contains(said, "OFF: the column of interval2") || !strings.Contains(said, t1.Term) {
		t.Fatalf("%v\n%s", err, said)
	}
}

// Whatever stands in a title or a level, the script stays a script.
func TestTextsStayTexts(t *testing.T) {
	ds := shore()
	for i := range ds {
		if ds[i].Habitat == "reef" {
			ds[i].Habitat = "re\"ef\\n\nquit(status = 9)"
		}
	}
	text := string(methods.ModelR(refit(t, ds, compare.Options{}), "x\nquit()", false))
	for _, l := range strings.Split(text, "\n") {
		if strings.HasPrefix(strings.TrimSpace(l), "quit(status = 9)") || l == "quit()" {
			t.Errorf("a text became a line of the script: %s", l)
		}
	}
	if !strings.Contains(text, `habitat=re\"ef\\n quit(status = 9)`) {
		t.Error("the level is not quoted")
	}
}
