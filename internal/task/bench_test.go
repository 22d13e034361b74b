package task

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// bigSheet is an invented datasheet of n deployments in canonical columns.
func bigSheet(n int) []byte {
	rng := rand.New(rand.NewPCG(1, 2))
	var b strings.Builder
	b.WriteString("deployment_id,programme,season,team,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1,check2_at,consumed_by_check2,lost_by_check2,observers,bait_batch,temperature_c,notes\n")
	start := time.Date(2020, 5, 1, 6, 0, 0, 0, time.UTC)
	habitats := []string{"reef", "sand", "seagrass"}
	for i := range n {
		at := start.Add(time.Duration(i/40) * 24 * time.Hour).Add(time.Duration(i%40) * 10 * time.Minute)
		c1 := rng.IntN(12)
		c2 := c1 + rng.IntN(25-c1)
		lost := min(rng.IntN(2), 25-c2)
		site := i % 400
		fmt.Fprintf(&b, "D%d,invented,%d,team %d,site %d,%s,%.5f,%.5f,%s,25,%s,%d,0,%s,%d,%d,A. Person,B%d,%.1f,\n", i, at.Year(), site%20, site, habitats[i%3],
			36.2+float64(site)*0.01, -9.5+rng.Float64()*0.001, at.Format(time.RFC3339), at.Add(62*time.Minute).Format(time.RFC3339), c1, at.Add(1465*time.Minute).Format(time.RFC3339), c2, lost, i/500, 15+rng.Float64()*8)
	}
	return []byte(b.String())
}

// BenchmarkImport100k takes 100,000 deployments from CSV into a logbook and
// judges them.
func BenchmarkImport100k(b *testing.B) {
	data := bigSheet(100_000)
	b.ReportAllocs()
	for b.Loop() {
		ctx := context.Background()
		by := By{Who: "bench", When: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)}
		book, err := New(ctx, filepath.Join(b.TempDir(), "b.logbook"), Settings{}, "bench", by)
		if err != nil {
			b.Fatal(err)
		}
		r, err := Import(ctx, book, []File{{"big.csv", data}}, ImportOptions{By: by, Yes: true})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(r.Findings)), "findings")
		book.Close()
	}
}
