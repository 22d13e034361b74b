package intake

import (
	"fmt"
	"strings"
	"testing"
)

// manyLines is a canonical CSV of n deployments at 200 sites.
func manyLines(n int) []byte {
	var b strings.Builder
	b.WriteString("deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1,check2_at,consumed_by_check2,lost_by_check2,observers,depth_min_m,depth_max_m,temperature_c,notes\n")
	for i := range n {
		fmt.Fprintf(&b, "D%d,site %d,%s,36.%04d,-8.%04d,2026-07-%02dT09:%02d+01:00,25,2026-07-%02dT10:%02d+01:00,%d,0,2026-07-%02dT09:%02d+01:00,%d,1,invented,1.5,2.5,19.%d,calm\n",
			i, i%200, []string{"sand", "seagrass", "rock"}[i%3], i%10000, (i*7)%10000, 1+i%27, i%60, 1+i%27, i%60, i%12, 2+i%27, i%60, 12+i%12, i%10)
	}
	return []byte(b.String())
}

func BenchmarkRead100000(b *testing.B) {
	data := manyLines(100_000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		tables, faults := Tables("many.csv", data, Options{})
		if len(faults) > 0 {
			b.Fatal(faults)
		}
		if r := Read(tables, Context{}); !r.Whole() || len(r.Records) != 100_000 {
			b.Fatal(len(r.Records), r.Faults, r.Questions)
		}
	}
}

func BenchmarkTables100000(b *testing.B) {
	data := manyLines(100_000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, faults := Tables("many.csv", data, Options{}); len(faults) > 0 {
			b.Fatal(faults)
		}
	}
}

func BenchmarkDeployments100000(b *testing.B) {
	tables, _ := Tables("many.csv", manyLines(100_000), Options{})
	r := Read(tables, Context{})
	b.ReportAllocs()
	for b.Loop() {
		for _, x := range r.Records {
			if _, faults := x.Deployment(); len(faults) > 0 {
				b.Fatal(faults)
			}
		}
	}
}
