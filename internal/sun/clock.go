package sun

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"time"
)

// Refusal is the reason why a question about light cannot be answered: a slug
// of the catalogue of words and its parameters.
type Refusal struct {
	Slug string
	With map[string]any
}

// Error gives slug and parameters; the sentence for people is in the catalogue.
func (r *Refusal) Error() string {
	var parts []string
	for k, v := range r.With {
		parts = append(parts, fmt.Sprintf("%s=%v", k, v))
	}
	sort.Strings(parts)
	return strings.Join(append([]string{r.Slug}, parts...), " ")
}

func refuse(slug string, pairs ...any) *Refusal {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return &Refusal{Slug: "sun." + slug, With: with}
}

// First and last year that are answered. Meeus's series hold for longer, but
// the difference of the clocks (ΔT) is not known outside.
const (
	FirstYear = 1900
	LastYear  = 2099
)

const (
	degree     = math.Pi / 180
	j2000Unix  = 946728000 // 2000-01-01T12:00:00Z, J2000.0 read on UTC
	daySeconds = 86400
	century    = 36525 * daySeconds
)

// seconds is the time since 2000-01-01T12:00 UTC, counted without leap seconds.
func seconds(t time.Time) float64 {
	return float64(t.Unix()-j2000Unix) + float64(t.Nanosecond())/1e9
}

// instant is the inverse of seconds, to the millisecond.
func instant(s float64) time.Time {
	ms := math.Round(s * 1000)
	whole := math.Floor(ms / 1000)
	return time.Unix(j2000Unix+int64(whole), int64(ms-whole*1000)*1e6).UTC()
}

// centuries is the time in Julian centuries of dynamical time since J2000.0.
func centuries(s float64) float64 { return (s + deltaT(s)) / century }

// leaps are the dates from which TAI − UTC has a new value, seconds since the
// epoch of 1970; from IERS Bulletin C, as in the tz database. The list ends in
// 2017, and no leap second has been announced since.
var leaps = func() []leap {
	var out []leap
	tai := 10
	for _, d := range strings.Fields(`1972-01 1972-07 1973-01 1974-01 1975-01 1976-01 1977-01 1978-01 1979-01
		1980-01 1981-07 1982-07 1983-07 1985-07 1988-01 1990-01 1991-01 1992-07 1993-07 1994-07 1996-01
		1997-07 1999-01 2006-01 2009-01 2012-07 2015-07 2017-01`) {
		t, err := time.Parse("2006-01", d)
		if err != nil {
			panic("sun: " + err.Error())
		}
		out = append(out, leap{float64(t.Unix() - j2000Unix), float64(tai) + 32.184})
		tai++
	}
	return out
}()

type leap struct{ from, deltaT float64 }

// before1972 are values of dynamical time minus universal time at the beginning
// of each tenth year, seconds: Meeus, table 10.A (from memory, checked against a
// second implementation to 0.5 s). UTC did not exist then; universal time stands
// in for it.
var before1972 = [...]float64{-2.8, 10.4, 21.2, 24.0, 24.3, 29.1, 33.1, 40.2}

// deltaT is dynamical time minus UTC in seconds: 32.184 s and the leap seconds
// since 1972, so 69.184 s from 2017 on; interpolated before. It matters for the
// moon (half a second of arc each second), hardly for the sun.
func deltaT(s float64) float64 {
	if i := sort.Search(len(leaps), func(i int) bool { return leaps[i].from > s }); i > 0 {
		return leaps[i-1].deltaT
	}
	decade := (s/(365.25*daySeconds) + 100) / 10
	i := min(max(int(decade), 0), len(before1972)-1)
	if i == len(before1972)-1 {
		return before1972[i] + (leaps[0].deltaT-before1972[i])*min(decade-float64(i), 0.2)/0.2
	}
	return before1972[i] + (before1972[i+1]-before1972[i])*(decade-float64(i))
}

// poly is c0 + c1 t + c2 t² + …
func poly(t float64, c ...float64) float64 {
	sum := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		sum = sum*t + c[i]
	}
	return sum
}

// sind and cosd take degrees of any size.
func sind(x float64) float64 { return math.Sin(math.Mod(x, 360) * degree) }
func cosd(x float64) float64 { return math.Cos(math.Mod(x, 360) * degree) }

// turn brings an angle in degrees into 0..360.
func turn(x float64) float64 {
	x = math.Mod(x, 360)
	if x < 0 {
		x += 360
	}
	if x >= 360 { // a tiny negative angle rounds up
		x = 0
	}
	return x
}
