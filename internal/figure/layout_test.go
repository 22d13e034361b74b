package figure

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestSpreadByHand: two boxes 2 high wanted at 5 move to 4 and 6 (least
// squares by symmetry); three wanted at 1, 5, 5.5 with height 2: the first
// stays, the others share 5.25 as 4.25 and 6.25.
func TestSpreadByHand(t *testing.T) {
	near := func(a, b []float64) bool {
		return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Abs(x-y) < 1e-12 })
	}
	if got := spread([]float64{5, 5}, []float64{2, 2}, 0, 10); !near(got, []float64{4, 6}) {
		t.Errorf("got %v", got)
	}
	if got := spread([]float64{1, 5, 5.5}, []float64{2, 2, 2}, 0, 10); !near(got, []float64{1, 4.25, 6.25}) {
		t.Errorf("got %v", got)
	}
	if got := spread([]float64{9.8, 9.9}, []float64{2, 2}, 0, 10); !near(got, []float64{7, 9}) {
		t.Errorf("at the end: got %v", got)
	}
}

func TestSpreadKeepsApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 40).Draw(t, "n")
		c := rapid.SliceOfN(rapid.Float64Range(0, 100), n, n).Draw(t, "centres")
		h := rapid.SliceOfN(rapid.Float64Range(0.1, 5), n, n).Draw(t, "heights")
		slices.Sort(c)
		tall := 0.0
		for _, v := range h {
			tall += v
		}
		hi := max(100, tall)
		got := spread(c, h, 0, hi)
		for i := range got {
			if got[i]-h[i]/2 < -1e-9 || got[i]+h[i]/2 > hi+1e-9 {
				t.Fatalf("box %d of %v leaves 0 to %g", i, got, hi)
			}
			if i > 0 && got[i]-got[i-1] < (h[i]+h[i-1])/2-1e-9 {
				t.Fatalf("boxes %d and %d overlap in %v", i-1, i, got)
			}
		}
	})
}

// TestWrapLosesNothing: lines hold all letters in order and none is too wide
// unless it is a single rune.
func TestWrapLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyText().Draw(t, "s")
		w := rapid.Float64Range(2, 60).Draw(t, "width")
		var b strings.Builder
		for _, l := range measuring().main(s).wrap(w) {
			if l.width() > w+1e-5 && len([]rune(l.s)) > 1 {
				t.Fatalf("line %q is %.2f mm wide, more than %.2f", l.s, l.width(), w)
			}
			b.WriteString(l.s)
		}
		clean, _ := Clean(s)
		if got, want := strip(b.String()), strip(clean); got != want {
			t.Fatalf("lines hold %q, text %q", got, want)
		}
	})
}

// measuring is a frame to measure words in.
func measuring() Frame { return Frame{WidthMM: 100, Look: Screen} }

func strip(s string) string { return strings.Join(strings.Fields(s), "") }

// anyText gives labels as people and files hold them: long words, accents,
// signs, other scripts, nothing.
func anyText() *rapid.Generator[string] {
	return rapid.OneOf(
		rapid.SampledFrom([]string{"", "1 h", "seagrass", "después de veinticuatro horas y treinta minutos", "Ångström Ǻ jjjj ÇŞ", "W", "very-long-name-without-a-single-space-in-it-anywhere", "🐟 emoji", "two  spaces "}),
		rapid.StringMatching(`[A-Za-zÀ-ž0-9 .,()−]{0,60}`),
		rapid.StringN(0, 30, -1),
	)
}

// TestStepByHand: a span of 100 in at most 5 pieces goes by 20; 0.27 in 4 by
// 0.1; 7 in 7 by 1; 1500 in 6 by 500.
func TestStepByHand(t *testing.T) {
	for _, c := range []struct {
		span float64
		n    int
		want float64
		dec  int
	}{{100, 5, 20, 0}, {0.27, 4, 0.1, 1}, {7, 7, 1, 0}, {1500, 6, 500, 0}, {0.003, 3, 0.001, 3}} {
		if s, dec := step(c.span, c.n); math.Abs(s-c.want) > 1e-12 || dec != c.dec {
			t.Errorf("step(%g, %d) = %g, %d; want %g, %d", c.span, c.n, s, dec, c.want, c.dec)
		}
	}
}

// TestTicks: texts keep apart, rise, lie on the axis, and say their value.
func TestTicks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		log := rapid.Bool().Draw(t, "log")
		lo := rapid.Float64Range(-1e4, 1e4).Draw(t, "lo")
		hi := lo + math.Pow(10, rapid.Float64Range(-4, 8).Draw(t, "span"))
		if log {
			lo = math.Pow(10, rapid.Float64Range(-9, 5).Draw(t, "loglo"))
			hi = lo * math.Pow(10, rapid.Float64Range(0.3, 9).Draw(t, "decades"))
		}
		w := rapid.Float64Range(20, 270).Draw(t, "width")
		a := newAxis(log, lo, hi, 0, w, Screen.SmallMM, Screen, w)
		for i, k := range a.ticks {
			if k.v < lo-math.Abs(hi-lo)*1e-6 || k.v > hi+math.Abs(hi-lo)*1e-6 {
				t.Fatalf("tick %g outside %g to %g", k.v, lo, hi)
			}
			if i > 0 {
				l := a.ticks[i-1]
				gap := a.textX(k, a16, w) - a.textX(l, a16, w) - (textWidth(k.text, a16, Regular)+textWidth(l.text, a16, Regular))/2
				if gap <= 0 || k.text == l.text {
					t.Fatalf("ticks %q and %q touch or repeat on %g to %g over %g mm", l.text, k.text, lo, hi, w)
				}
			}
		}
	})
}

const a16 = 16 / pxPerMM

func TestTickTexts(t *testing.T) {
	// By hand.
	for _, c := range []struct {
		v, step float64
		dec     int
		want    string
	}{{0, 1, 0, "0"}, {-2, 1, 0, "−2"}, {0.05, 0.05, 2, "0.05"}, {1e-6, 1e-6, 6, "10⁻⁶"}, {2e7, 1e7, 0, "2×10⁷"}, {math.Copysign(0, -1), 0.5, 1, "0"}} {
		if got := Screen.tickText(c.v, c.step, c.dec); got != c.want {
			t.Errorf("tickText(%g) = %q, want %q", c.v, got, c.want)
		}
	}
	es := Screen
	es.Comma = true
	if got := es.numberText(0.25, 2); got != "0,25" {
		t.Errorf("decimal comma: %q", got)
	}
}

// TestLogAxisByHand: on 0.1 to 10 over 100 mm, 1 stands in the middle and
// 0.316… at a quarter.
func TestLogAxisByHand(t *testing.T) {
	a := newAxis(true, 0.1, 10, 0, 100, Print.SmallMM, Print, 100)
	if math.Abs(a.at(1)-50) > 1e-9 || math.Abs(a.at(math.Sqrt(0.1))-25) > 1e-9 || a.at(1e9) != 100 {
		t.Errorf("1 at %g, √0.1 at %g", a.at(1), a.at(math.Sqrt(0.1)))
	}
}

// TestDashed: a line of 10 mm with dashes of 2 and gaps of 1, round a corner,
// by hand: dashes from 0, 3, 6 and 9, so 2 + 2 + 2 + 1 mm of ink.
func TestDashed(t *testing.T) {
	got := dashed([][]Point{{{0, 0}, {4, 0}, {4, 6}}}, 2, 1)
	ink := 0.0
	for _, p := range got {
		for i := 1; i < len(p); i++ {
			ink += dist(p[i-1], p[i])
		}
	}
	if len(got) != 4 || math.Abs(ink-7) > 1e-9 || got[1][1] != (Point{4, 0}) {
		t.Errorf("%d dashes with %g mm: %v", len(got), ink, got)
	}
}

// TestHourAxisByHand: over a day and a bit on a wide drawing ticks stand every
// 3 or 6 h and one stands at 24; over two weeks every two days.
func TestHourAxisByHand(t *testing.T) {
	texts := func(hi, w float64) string {
		var s []string
		for _, k := range newHourAxis(hi, 0, w, a16, Screen, w+10).ticks {
			s = append(s, k.text)
		}
		return strings.Join(s, " ")
	}
	for _, c := range []struct {
		hi, w float64
		want  string
	}{{25.6, 90, "0 3 6 9 12 15 18 21 24"}, {25.6, 40, "0 6 12 18 24"}, {1.1, 90, "0 0.25 0.50 0.75 1.00"}, {336, 90, "0 48 96 144 192 240 288 336"}} {
		if got := texts(c.hi, c.w); got != c.want {
			t.Errorf("to %g h over %g mm: %s; want %s", c.hi, c.w, got, c.want)
		}
	}
}
