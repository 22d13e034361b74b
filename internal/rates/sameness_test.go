package rates

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"soakline/internal/assay"
)

// Lines in another order, the same instants written in another zone, and control and
// practice rows beside them change nothing: each row is told to the byte, the curves to
// 1e-8.
func TestOrderZoneAndControlsChangeNothing(t *testing.T) {
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		if n++; n > 30 {
			return
		}
		var ds []assay.Deployment
		for i := range rapid.IntRange(2, 9).Draw(t, "rows") {
			d := drawRow(t, false)
			d.ID, d.Site, d.Habitat = fmt.Sprint("r", i), fmt.Sprint("s", i%4), []string{"reef", "sand"}[i%2]
			ds = append(ds, d)
		}
		other := make([]assay.Deployment, 0, len(ds)+2)
		offsetS := rapid.IntRange(-12, 14).Draw(t, "zone") * 3600
		for _, i := range rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 1)).Perm(len(ds)) {
			d := ds[i]
			d.SetOut.Zone, d.SetOut.OffsetS = "Etc/Elsewhere", offsetS
			d.Checks = append([]assay.Check{}, d.Checks...)
			for k := range d.Checks {
				d.Checks[k].At.Zone, d.Checks[k].At.OffsetS = "Etc/Elsewhere", offsetS
			}
			other = append(other, d)
		}
		control, practice := ds[0], ds[1]
		control.ID, control.Control, practice.ID, practice.Practice = "c", assay.Shielded, "p", assay.Some(true)
		other = append(other, control, practice)
		a, err := Compute(t.Context(), ds, Options{Group: ByHabitat, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		b, err := Compute(t.Context(), other, Options{Group: ByHabitat, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		told := map[string]string{}
		for _, d := range b.Deployments {
			text, _ := json.Marshal(d)
			told[d.DeploymentID] = string(text)
		}
		for _, d := range a.Deployments {
			if text, _ := json.Marshal(d); told[d.DeploymentID] != string(text) {
				t.Fatalf("%s\n%s", text, told[d.DeploymentID])
			}
		}
		if len(b.Deployments) != len(a.Deployments) || len(b.Excluded) != len(a.Excluded)+2 || len(a.Groups) != len(b.Groups) {
			t.Fatalf("%d rows, %d; %v", len(a.Deployments), len(b.Deployments), b.Excluded)
		}
		for i, g := range a.Groups {
			for k, s := range g.Survival {
				o := b.Groups[i].Survival[k]
				for _, pair := range [][2]float64{{s.FromH, o.FromH}, {s.ToH, o.ToH}, {s.Survival, o.Survival}, {s.Lower.Or(-1), o.Lower.Or(-1)}, {s.Upper.Or(-1), o.Upper.Or(-1)}} {
					if math.Abs(pair[0]-pair[1]) > 1e-8 {
						t.Fatalf("%s: %+v and %+v", g.Group, s, o)
					}
				}
			}
		}
	})
}
