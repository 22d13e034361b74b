// Command performance writes invented seasons of stated sizes, drawn from the
// grouped-time model, twice: as a datasheet for soakline and as the long frame
// that general-purpose packages fit. run.sh times both in one run.
//
//	go run ./tools/performance FOLDER N…
package main

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"time"
)

func main() {
	if len(os.Args) < 3 {
		fmt.Fprintln(os.Stderr, "use: performance FOLDER N…")
		os.Exit(2)
	}
	for _, arg := range os.Args[2:] {
		n, err := strconv.Atoi(arg)
		if err == nil {
			err = write(os.Args[1], n)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
	}
}

// write draws n deployments: 4 rows in each of 2 habitats at n/8 sites, SDs of
// 0.5 (site), 0.3 (habitat within site) and 0.4 (row), 2 % of the baits lost.
func write(dir string, n int) (err error) {
	sheet, err := os.Create(filepath.Join(dir, fmt.Sprintf("season-%d.csv", n)))
	if err != nil {
		return err
	}
	defer sheet.Close()
	frame, err := os.Create(filepath.Join(dir, fmt.Sprintf("frame-%d.csv", n)))
	if err != nil {
		return err
	}
	defer frame.Close()
	s, f := bufio.NewWriter(sheet), bufio.NewWriter(frame)
	fmt.Fprintln(s, "deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1,check2_at,consumed_by_check2,lost_by_check2")
	fmt.Fprintln(f, "id,site,sh,habitat,interval,y,r,len")
	rng := rand.New(rand.NewPCG(20260101, uint64(n)))
	start := time.Date(2026, 5, 1, 8, 0, 0, 0, time.UTC)
	id := 0
	for site := 0; id < n; site++ {
		us := 0.5 * rng.NormFloat64()
		for h, habitat := range []string{"reef", "sand"} {
			uh := 0.3 * rng.NormFloat64()
			for range 4 {
				if id == n {
					break
				}
				id++
				rate := []float64{0.3, 0.15}[h] * math.Exp(us+uh+0.4*rng.NormFloat64())
				t1, t2 := 3600+rng.IntN(900), 24*3600+rng.IntN(3600)
				h1, h2 := float64(t1)/3600, float64(t2-t1)/3600
				c1 := draw(rng, 25, -math.Expm1(-rate*h1))
				lost := draw(rng, 25-c1, 0.02)
				y2 := draw(rng, 25-c1-lost, -math.Expm1(-0.2*rate*h2))
				at := start.Add(time.Duration(id) * time.Hour)
				fmt.Fprintf(s, "D%d,site %d,%s,%.4f,%.4f,%s,25,%s,%d,0,%s,%d,%d\n", id, site, habitat, 36.5+0.001*float64(site%1000), -9.0, at.Format(time.RFC3339),
					at.Add(time.Duration(t1)*time.Second).Format(time.RFC3339), c1, at.Add(time.Duration(t2)*time.Second).Format(time.RFC3339), c1+y2, lost)
				fmt.Fprintf(f, "D%d,s%d,s%d %s,%s,1,%d,25,%.6f\n", id, site, site, habitat, habitat, c1, h1)
				if r := 25 - c1 - lost; r > 0 {
					fmt.Fprintf(f, "D%d,s%d,s%d %s,%s,2,%d,%d,%.6f\n", id, site, site, habitat, habitat, y2, r, h2)
				}
			}
		}
	}
	if err := s.Flush(); err != nil {
		return err
	}
	return f.Flush()
}

func draw(rng *rand.Rand, n int, p float64) int {
	k := 0
	for range n {
		if rng.Float64() < p {
			k++
		}
	}
	return k
}
