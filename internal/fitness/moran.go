package fitness

import (
	"math"

	"soakline/internal/place"
	"soakline/internal/words"
)

const (
	// fewestSites: with fewer, no arrangement is rare enough to be told.
	fewestSites = 5
	// exactSites: up to it every arrangement is counted (8! = 40,320).
	exactSites = 8
	shuffles   = 9999
	// nearestKm is the distance given to sites nearer than it, so that no weight runs away.
	nearestKm = 0.05
)

// distance asks whether sites near each other have residuals alike: Moran's I
// of the sites' mean normal scores, weights one over the distance, over
// permutations of the sites. Site intercepts are independent under the model.
func (l *look) distance(z []float64) {
	at := map[string]int{}
	type sums struct{ lat, lon, z, n, placed float64 }
	var all []sums
	var names []string
	for i, r := range l.rows {
		if r.Control {
			continue
		}
		k, ok := at[r.Deployment.Site]
		if !ok {
			k = len(all)
			at[r.Deployment.Site] = k
			all, names = append(all, sums{}), append(names, r.Deployment.Site)
		}
		a := &all[k]
		a.z += z[i]
		a.n++
		lat, ok1 := r.Deployment.Latitude.Get()
		lon, ok2 := r.Deployment.Longitude.Get()
		if ok1 && ok2 {
			if a.placed > 0 { // across the antimeridian the nearer copy counts
				lon += 360 * math.Round((a.lon/a.placed-lon)/360)
			}
			a.lat, a.lon, a.placed = a.lat+lat, a.lon+lon, a.placed+1
		}
	}
	var values []float64
	for k, a := range all {
		if a.placed == 0 {
			continue
		}
		s := SiteResidual{Site: names[k], Rows: int(a.n), Mean: a.z / a.n, Latitude: a.lat / a.placed, Longitude: math.Remainder(a.lon/a.placed, 360)}
		l.r.Sites = append(l.r.Sites, s)
		values = append(values, s.Mean)
	}
	if len(values) < fewestSites {
		l.cannot(Distance, "few-sites")
		return
	}
	w := weights(DistancesKm(l.r.Sites))
	i := moran(values, w)
	if math.IsNaN(i) {
		l.cannot(Distance, "no-variance")
		return
	}
	p, n, exact := moranP(values, w, l.o.Seed)
	by := "permutations"
	if exact {
		by = "exact"
	}
	l.made(Distance, by, n, i, p, words.P{"expected": -1 / float64(len(values)-1)})
}

// DistancesKm are the distances between sites on the ellipsoid, km.
func DistancesKm(sites []SiteResidual) [][]float64 {
	d := make([][]float64, len(sites))
	for i := range d {
		d[i] = make([]float64, len(sites))
	}
	for i, a := range sites {
		for j := range i {
			m, _, _ := place.Between(a.Latitude, a.Longitude, sites[j].Latitude, sites[j].Longitude)
			d[i][j], d[j][i] = m/1000, m/1000
		}
	}
	return d
}

// weights are one over the distance, none of a site with itself.
func weights(km [][]float64) [][]float64 {
	w := make([][]float64, len(km))
	for i := range km {
		w[i] = make([]float64, len(km))
		for j := range km {
			if i != j {
				w[i][j] = 1 / math.Max(km[i][j], nearestKm)
			}
		}
	}
	return w
}

// moran is Moran's I: n/W · Σ w_ij (x_i − x̄)(x_j − x̄) / Σ (x_i − x̄)², W = Σ w_ij
// (Moran 1950, Biometrika 37:17–23; in this form Cliff & Ord 1981, Spatial
// Processes, eq. 1.44). NaN where x does not vary.
func moran(x []float64, w [][]float64) float64 {
	m := mean(x)
	var num, den, total float64
	for i := range x {
		den += (x[i] - m) * (x[i] - m)
		for j := range x {
			num += w[i][j] * (x[i] - m) * (x[j] - m)
			total += w[i][j]
		}
	}
	if den == 0 || total == 0 {
		return math.NaN()
	}
	return float64(len(x)) / total * num / den
}

// moranP is the share of arrangements of the values over the sites whose I is
// at least as large: all of them where sites are few, else 9,999 drawn ones and
// the one seen.
func moranP(x []float64, w [][]float64, seed uint64) (p float64, n int, exact bool) {
	seen := moran(x, w) - 1e-12
	y := append([]float64(nil), x...)
	count := 0
	if len(x) <= exactSites {
		permute(y, len(y), func() {
			n++
			if moran(y, w) >= seen {
				count++
			}
		})
		return float64(count) / float64(n), n, true
	}
	rng := stream(seed, "sites", 0)
	for range shuffles {
		rng.Shuffle(len(y), func(i, j int) { y[i], y[j] = y[j], y[i] })
		if moran(y, w) >= seen {
			count++
		}
	}
	return float64(1+count) / float64(1+shuffles), shuffles, false
}

// permute calls f for every order of x (Heap 1963, Comput. J. 6:293–298).
func permute(x []float64, k int, f func()) {
	if k <= 1 {
		f()
		return
	}
	for i := range k {
		permute(x, k-1, f)
		if i < k-1 {
			if k%2 == 0 {
				x[i], x[k-1] = x[k-1], x[i]
			} else {
				x[0], x[k-1] = x[k-1], x[0]
			}
		}
	}
}
