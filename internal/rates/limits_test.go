package rates

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestWilsonPublished(t *testing.T) {
	// Newcombe (1998), Stat. Med. 17:857-872, Table I, method 3, 95 %; printed to 4 decimals.
	for _, c := range []struct{ k, n, lo, hi float64 }{
		{81, 263, 0.2553, 0.3662},
		{15, 148, 0.0624, 0.1605},
		{0, 20, 0, 0.1611},
		{1, 29, 0.0061, 0.1718},
	} {
		lo, hi, err := Wilson.Limits(c.k/c.n, c.n, 0.95)
		if err != nil || math.Abs(lo-c.lo) > 5e-5 || math.Abs(hi-c.hi) > 5e-5 {
			t.Errorf("Wilson %v of %v = %.4f, %.4f, %v; want %.4f, %.4f", c.k, c.n, lo, hi, err, c.lo, c.hi)
		}
	}
}

// reference gives the lines of testdata/reference.txt (made by reference.R, its
// versions at the head) whose first word is kind: their further words as numbers
// where they are numbers.
func reference(t *testing.T, kind string) (words [][]string, numbers [][]float64) {
	t.Helper()
	f, err := os.Open("testdata/reference.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for in := bufio.NewScanner(f); in.Scan(); {
		w := strings.Fields(in.Text())
		if len(w) == 0 || w[0] != kind {
			continue
		}
		var x []float64
		for _, s := range w[1:] {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				v = math.NaN()
			}
			x = append(x, v)
		}
		words, numbers = append(words, w[1:]), append(numbers, x)
	}
	if words == nil {
		t.Fatalf("testdata/reference.txt has no line %s", kind)
	}
	return words, numbers
}

func TestLimitsAgainstR(t *testing.T) {
	for kind, m := range map[string]Method{"wilson": Wilson, "cp": ClopperPearson, "jeffreys": Jeffreys} {
		_, lines := reference(t, kind)
		for _, l := range lines {
			x, n, level, want := l[0], l[1], l[2], l[3:5]
			lo, hi, err := m.Limits(x/n, n, level)
			if kind == "jeffreys" && x == n { // R's script takes 1 there, as we do
				want[1] = 1
			}
			if err != nil || math.Abs(lo-want[0]) > 1e-8 || math.Abs(hi-want[1]) > 1e-8 {
				t.Errorf("%s %v of %v at %v = %.10f, %.10f, %v; R says %.10f, %.10f", kind, x, n, level, lo, hi, err, want[0], want[1])
			}
		}
	}
}

func TestLimitsRefuse(t *testing.T) {
	for _, c := range []struct {
		m           Method
		p, n, level float64
	}{{Wilson, .5, 0, .95}, {Wilson, 1.1, 5, .95}, {Wilson, math.NaN(), 5, .95}, {Wilson, .5, 5, 1}, {"normal", .5, 5, .95}, {Wilson, .5, math.Inf(1), .9}} {
		if lo, hi, err := c.m.Limits(c.p, c.n, c.level); err == nil {
			t.Errorf("%+v gave %v %v", c, lo, hi)
		}
	}
}

// Present mirrors consumed: what is told of one is 1 less what is told of the
// other; and the interval lies in [0, 1] and holds the estimate.
func TestLimitsMirror(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.SampledFrom(Methods).Draw(t, "method")
		n := rapid.Float64Range(0.5, 400).Draw(t, "n")
		p := rapid.Float64Range(0, 1).Draw(t, "p")
		level := rapid.Float64Range(0.5, 0.999).Draw(t, "level")
		lo, hi, err := m.Limits(p, n, level)
		mlo, mhi, err2 := m.Limits(1-p, n, level)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		if lo < 0 || lo > p || p > hi || hi > 1 || hi <= lo {
			t.Fatalf("%v [%v %v]", p, lo, hi)
		}
		if math.Abs(lo-(1-mhi)) > 1e-9 || math.Abs(hi-(1-mlo)) > 1e-9 {
			t.Fatalf("[%v %v] is not the mirror of [%v %v]", lo, hi, mlo, mhi)
		}
	})
}

// Clopper-Pearson covers at least as stated, whatever p: summed exactly.
func TestClopperPearsonCovers(t *testing.T) {
	const n = 25
	for p := 0.02; p < 1; p += 0.02 {
		covered := 0.0
		for y := range n + 1 {
			lo, hi, _ := ClopperPearson.Limits(float64(y)/n, n, 0.95)
			if lo <= p && p <= hi {
				covered += math.Exp(logChoose(n, y) + float64(y)*math.Log(p) + float64(n-y)*math.Log(1-p))
			}
		}
		if covered < 0.95 {
			t.Errorf("p = %.2f: %.4f", p, covered)
		}
	}
}

func Example_limits() {
	lo, hi, _ := Wilson.Limits(0, 25, 0.95)
	fmt.Printf("%.3f %.3f\n", lo, hi)
	// Output: 0.000 0.133
}
