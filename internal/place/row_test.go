package place

import (
	"math"
	"testing"
)

// TestRowStakes: reference by GeodSolve 2.1.2,
//
//	echo "36.9512 -8.2034 127.5 S" | GeodSolve -p 9     for S = 2, 24, 48
func TestRowStakes(t *testing.T) {
	row, err := RowStakes(36.9512, -8.2034, 127.5, 0, 2, 25)
	if err != nil || len(row) != 25 {
		t.Fatal(err)
	}
	for _, w := range []struct {
		i        int
		lat, lon float64
	}{
		{0, 36.95120000000000, -8.20340000000000},
		{1, 36.95118902902410, -8.20338218555355},
		{12, 36.95106834811143, -8.20318622697977},
		{24, 36.95093669583513, -8.20297245469535},
	} {
		s := row[w.i]
		if s.Number != w.i+1 || s.AlongM != float64(2*w.i) || math.Abs(s.LatDeg-w.lat) > 1e-12 || math.Abs(s.LonDeg-w.lon) > 1e-12 {
			t.Errorf("stake %d: %+v; want %v %v", w.i+1, s, w.lat, w.lon)
		}
	}
	// Neighbours are 2 m apart, and the whole row is 48 m long.
	for i := 1; i < 25; i++ {
		d, _, _ := Between(row[i-1].LatDeg, row[i-1].LonDeg, row[i].LatDeg, row[i].LonDeg)
		if math.Abs(d-2) > 20e-9 {
			t.Errorf("stakes %d and %d are %.9f m apart", i, i+1, d)
		}
	}
}

func TestRowStakesRefuses(t *testing.T) {
	nan := math.NaN()
	for _, c := range [][5]float64{
		{91, 0, 0, 0, 2}, {0, 400, 0, 0, 2}, {0, 0, nan, 0, 2}, {0, 0, 0, nan, 2}, {0, 0, 0, 0, 0}, {0, 0, 0, 0, -2}, {0, 0, 0, 0, nan},
	} {
		if _, err := RowStakes(c[0], c[1], c[2], c[3], c[4], 25); err == nil {
			t.Errorf("RowStakes(%v) was taken", c)
		}
	}
	if _, err := RowStakes(0, 0, 0, 0, 2, 0); err == nil {
		t.Error("a row of no stakes was taken")
	}
}
