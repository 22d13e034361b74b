package rates

import (
	"fmt"
	"testing"

	"soakline/internal/assay"
)

// many is n deployments over n/100 sites and three habitats, visits off nominal.
func many(n int) []assay.Deployment {
	ds := make([]assay.Deployment, 0, n)
	s := season{clusters: 1, rows: 1, sd: 0.7, rowSD: 0.5, typical: 0.4, jitter: true}
	for k := range n {
		d := s.draw(stream(7, "bench", k))[0]
		d.ID = fmt.Sprint("D", k)
		d.Site = fmt.Sprint("site ", k%max(n/100, 1))
		d.Habitat = []string{"sand", "reef", "seagrass"}[k%3]
		ds = append(ds, d)
	}
	return ds
}

func BenchmarkCompute(b *testing.B) {
	for _, c := range []struct {
		n     int
		group Group
	}{{400, NoGroup}, {400, ByHabitat}, {100000, NoGroup}, {100000, ByHabitat}, {100000, BySite}} {
		ds := many(c.n)
		b.Run(fmt.Sprintf("deployments=%d/group=%s", c.n, c.group), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Compute(b.Context(), ds, Options{Group: c.group}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkFourChecks is the cost of one row with a Weibull curve and with baits
// unread at one check, counts only.
func BenchmarkFourChecks(b *testing.B) {
	for name, unread := range map[string][]int{"read": {0, 0, 0, 0}, "unread": {0, 4, 0, 0}} {
		ds := []assay.Deployment{row("A", 25, []float64{1, 3, 9, 24}, []int{3, 9, 15, 20}, []int{0, 0, 1, 2}, unread)}
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Compute(b.Context(), ds, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
