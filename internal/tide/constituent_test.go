package tide

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// Speeds against the column of Foreman's table, which is printed to 7 decimals
// of a degree an hour and was computed from his own rates.
func TestSpeedsAgainstForeman(t *testing.T) {
	n := 0
	for _, f := range csvLines(constituentsCSV) {
		c, ok := Find(f[0])
		if !ok {
			t.Fatalf("no %s", f[0])
		}
		want := number(f[1])
		tol := 2e-7
		if f[0] == "SA" || f[0] == "S1" {
			tol = 3e-6 // we count no solar perigee (0.000002 degrees an hour)
		}
		if math.Abs(c.SpeedDegPerH-want) > tol {
			t.Errorf("%s: %.7f degrees an hour, want %.7f", f[0], c.SpeedDegPerH, want)
		}
		n++
	}
	if n < 69 {
		t.Errorf("only %d constituents", n)
	}
}

// Compositions by hand: speeds from those of M2 28.9841042, S2 30, N2 28.4397295,
// K1 15.0410686, K2 30.0821373, O1 13.9430356 (Schureman 1958, Table 2).
func TestComposition(t *testing.T) {
	for name, want := range map[string]float64{
		"2mk3":  42.9271398, // 2 M2 - K1
		"MSN2":  30.5443747, // M2 + S2 - N2
		"2SM2":  31.0158958,
		"MKS2":  29.0662415, // K2, not K1
		"4MS10": 145.9364168,
		"2MNS4": 2*28.9841042 + 28.4397295 - 30,
		"LAM2":  29.4556253, "RHO": 13.4715145, "m1": 14.4966939, "KJ2": 30.6265120,
	} {
		c, ok := Find(name)
		if !ok || math.Abs(c.SpeedDegPerH-want) > 5e-7 {
			t.Errorf("%s: %v %v, want %.7f", name, ok, c, want)
		}
	}
	for _, bad := range []string{"", "M", "M9", "XX2", "2", "7", "MSK99", "9M9S9N4", "ÅÅ2", "M3.5"} {
		if c, ok := Find(bad); ok {
			t.Errorf("%q was taken as %v", bad, c.Name)
		}
	}
}

func readCSV(t *testing.T, name string) (head []string, lines [][]string) {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return all[0], all[1:]
}

func num(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}
