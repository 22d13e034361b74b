package place

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// said lists the slugs of a reading, without their prefix.
func said(r Reading) string {
	var s []string
	for _, q := range r.Questions {
		s = append(s, strings.TrimPrefix(q.Slug, "place."))
	}
	return strings.Join(s, " ")
}

var algarve = &Point{36.95, -8.20}

// Degrees, minutes and seconds used below, by hand:
// 36°57′04.32″ = 36 + 57/60 + 4.32/3600 = 36.9512; 8°12′12.24″ = 8.2034;
// 36°57.072′ = 36.9512; 8°12.204′ = 8.2034.
const (
	lat0 = 36.9512
	lon0 = -8.2034
)

// TestReadClear: what leaves no doubt.
func TestReadClear(t *testing.T) {
	for _, text := range []string{
		"36.9512, -8.2034", "36.9512 -8.2034", "36.9512,-8.2034", "36.9512;-8.2034", "36.9512\t-8.2034", "(36.9512, -8.2034)", "+36.9512 -8.2034", "36.9512 −8.2034",
		"36,9512 -8,2034", "36,9512; -8,2034", "36,9512, -8,2034", "36,9512,-8,2034",
		"36.9512n,8.2034w", "Lat. 36.9512, Long. -8.2034", "36.9512 N, 8.2034 W", "36.9512N 8.2034W", "N36.9512 W8.2034", "N 36.9512, W 8.2034", "8.2034 W, 36.9512 N", "W8.2034 N36.9512", "36.9512° N 8.2034° W",
		"36.9512 norte, 8.2034 oeste", "36,9512 Norte 8,2034 Oeste", "36.9512 north 8.2034 west",
		"lat 36.9512 lon -8.2034", "lat: 36.9512, lon: -8.2034", "lon=-8.2034 lat=36.9512", "latitud 36,9512 longitud -8,2034", "x=-8.2034, y=36.9512", "36.9512 lat, -8.2034 lon",
		"geo:36.9512,-8.2034", "POINT(-8.2034 36.9512)", "WGS84 36.9512 -8.2034", "+36.9512-008.2034/", "36.9512 -8.2034 WGS 84", "EPSG:4326 36.9512 -8.2034",
		"36°57.072'N 8°12.204'W", "36° 57.072′ N, 8° 12.204′ W", "N36 57.072 W8 12.204", "36 57.072 N 8 12.204 W", "36 57.072 -8 12.204", "36°57,072'N 8°12,204'W", "36º57,072' N; 8º12,204' W", "36o57.072' N 8o12.204' W",
		"36°57'04.32\"N 8°12'12.24\"W", "36° 57′ 04.32″ N 8° 12′ 12.24″ W", "36 57 04.32 N 8 12 12.24 W", "N 36 57 04.32 W 8 12 12.24", "36:57:04.32 N 8:12:12.24 W", "36:57:04.32, -8:12:12.24", "36d57m04.32sN 8d12m12.24sW",
		"36 deg 57 min 04.32 sec N, 8 deg 12 min 12.24 sec W", "36°57'04,32\"N 8°12'12,24\"W", "36°57'04.32''N 8°12'12.24''W", "36-57-04.32 N 8-12-12.24 W", "N 36 57 04.32 8 12 12.24 W", "36 grados 57 minutos 4,32 segundos norte 8 grados 12 minutos 12,24 segundos oeste",
		"29N 570924.245271 4089755.244629", "UTM 29N 570924.245271E 4089755.244629N", "zone 29 north 570924.245271 4089755.244629", "570924.245271 4089755.244629 29N", "huso 29 norte, 570924,245271; 4089755,244629",
	} {
		r, err := Read(text, Options{})
		if err != nil || !r.Clear() || math.Abs(r.LatDeg-lat0) > 1e-9 || math.Abs(r.LonDeg-lon0) > 1e-9 {
			t.Errorf("%q: (%v, %v) %s %v", text, r.LatDeg, r.LonDeg, said(r), err)
		}
	}
	// By GeoConvert 2.1.2: echo 36.9512 -8.2034 | GeoConvert -m -p 0
	for _, text := range []string{"29SNA7092489755", "29S NA 70924 89755", "29s na 70924 89755", "MGRS 29SNA 70924 89755"} {
		r, err := Read(text, Options{})
		d, _, _ := Between(r.LatDeg, r.LonDeg, lat0, lon0)
		if err != nil || !r.Clear() || d > 1.5 || r.Notation != GridMGRS || r.ResolutionM != 1 {
			t.Errorf("%q: %v m off, %+v %v", text, d, r, err)
		}
	}
}

// TestReadDoubt: what is read, or not, with which question. NaN stands for
// no preference.
func TestReadDoubt(t *testing.T) {
	no := math.NaN()
	for _, c := range []struct {
		text     string
		lat, lon float64
		said     string
	}{
		{"36.9512 N, 8.2034 O", no, no, "letter-o"}, // oeste, or Ost
		{"36°57.072' N 8°12.204' O", no, no, "letter-o"},
		{"36.9512 N, -8.2034 O", 36.9512, -8.2034, "sign-and-letter"},
		{"36.9512 N, 8.2034", no, no, "longitude-letter-missing"},
		{"36.9512, 8.2034 W", no, no, "latitude-letter-missing"},
		{"36.9512 N, -8.2034", 36.9512, -8.2034, ""},
		{"36.9512 N, -8.2034 W", 36.9512, -8.2034, "sign-and-letter"},
		{"36.9512 N, -8.2034 E", no, no, "sign-against-letter"},
		{"36°57'04.32\" 8°12'12.24\"", no, no, "latitude-side-missing longitude-side-missing"},
		{"36 57.072 8 12.204", no, no, "latitude-side-missing longitude-side-missing"},
		{"-100.5, 20.3", 20.3, -100.5, "order"},
		{"151.2, -33.85", -33.85, 151.2, "order"},
		{"36.9512, 351.7966", 36.9512, -8.2034, "over-180"},
		{"0, 0", 0, 0, "zero"}, {"0.0000 0.0000", 0, 0, "zero"},
		{"36.9512, 36.9512", 36.9512, 36.9512, "same-twice"},
		{"36.9512, -8.2034, 12", 36.9512, -8.2034, "third-number"},
		{"36.9512 -8.2034 12", 36.9512, -8.2034, "third-number"},
		{"36.9512 -8.2034 12.5", 36.9512, -8.2034, "third-number"},
		{"36.9512 8.2034 12.5", 36.9512, 8.2034, "third-number"},
		{"36.9512 N 8.2034 W 12 m", 36.9512, -8.2034, "third-number"},
		{"36,8", 36, 8, "decimal-comma"},
		{"36,95,8,20", 36.95, 8.20, "decimal-comma"},
		{"36 57.07", 36, 57.07, "degrees-or-minutes"}, {"36 57", 36, 57, "degrees-or-minutes"}, {"36 151", 36, 151, ""}, {"36, 57", 36, 57, ""},
		{"3657.072N 00812.204W", 36.9512, -8.2034, "compact"},
		{"365704N 0081212W", 36 + 57./60 + 4./3600, -(8 + 12./60 + 12./3600), "compact"},
		{"ED50 36.9512 -8.2034", 36.9512, -8.2034, "datum"},
		{"29S 570924.245271 4089755.244629", no, no, "grid-letter-s"},
		{"29 570924.245271 4089755.244629", no, no, "grid-hemisphere"},
		{"29T 570924.245271 4089755.244629", 36.9512, -8.2034, "grid-band-differs"},
		{"56H 333471.815 6253018.169", -33.85, 151.2, ""},
		{"29N 170000 4089755", 36.896109, -12.703104, "grid-outside-zone"},
	} {
		r, err := Read(c.text, Options{})
		same := math.IsNaN(c.lat) && !r.Known() && len(r.Candidates) > 1 ||
			math.Abs(r.LatDeg-c.lat) < 1e-6 && math.Abs(r.LonDeg-c.lon) < 1e-6
		if err != nil || !same || said(r) != c.said {
			t.Errorf("%q: (%v, %v) %q %v; want (%v, %v) %q", c.text, r.LatDeg, r.LonDeg, said(r), err, c.lat, c.lon, c.said)
		}
	}
}

// TestReadRefused: what cannot be read, and why.
func TestReadRefused(t *testing.T) {
	for text, slug := range map[string]string{
		"": "empty", "  ": "empty", "by the pier": "not-understood", "36.9512": "one-coordinate", "36°57'04\" N": "one-coordinate", "36:57:04": "one-coordinate", "36,9512": "one-coordinate",
		"91.5, 95": "latitude-range", "95 N, 8 W": "latitude-range", "36.9, 400": "degrees-range", "36.9 N, 190 E": "longitude-range", "36.9512, -190": "longitude-range",
		"36 75 N 8 12 W": "sixty", "36 57 60 N 8 12 12 W": "sixty", "36.5 57 N 8.2 12 W": "fraction-inside",
		"36.9 N, 8.2 S": "same-axis", "36.9 E, 8.2 W": "same-axis", "36.9 N S, 8.2 W": "letters-clash",
		"369512, -82034": "degrees-range", "570924 4089755": "grid-without-zone", "61N 570924 4089755": "grid-zone", "29N 970924 4089755": "grid-range", "29I 570924 4089755": "grid-band",
		"29SNA70924897": "", "29SNA7092489": "grid-digits", "29SAA7092489755": "grid-square", "3.69512E+01, -8.2": "exponent", "36.9512 - 8.2034": "dash",
		"36.9 8.2 7.1 3.3 2.2": "not-two-coordinates", "1.234.567, 8": "not-understood", "36.9512 -8.2034 #": "not-understood", strings.Repeat("1 ", 200): "not-understood", "36.9\xff": "not-understood",
		"29Z 570924 4089755": "grid-band", "lat 36.9 lat 8.2": "same-axis", "4089755 570924 29N": "grid-without-zone", "36 57 8": "one-coordinate", "36°57.07' N": "one-coordinate", "36 57.07 N": "one-coordinate",
	} {
		r, err := Read(text, Options{})
		var bad *Refusal
		switch {
		case slug == "":
			if err != nil {
				t.Errorf("%q: %v", text, err)
			}
		case !errors.As(err, &bad):
			t.Errorf("%q was read: (%v, %v) %s; want %s", text, r.LatDeg, r.LonDeg, said(r), slug)
		case bad.Slug != "place."+slug:
			t.Errorf("%q: %v; want %s", text, err, slug)
		}
	}
}

// TestReadNear: a known position settles what it can, and raises what it must.
func TestReadNear(t *testing.T) {
	near := Options{Near: algarve}
	box := Options{Region: &Box{36, 38, -10, -7}}
	for _, c := range []struct {
		text     string
		o        Options
		lat, lon float64
		said     string
		other    []Point
	}{
		{"36.9512, -8.2034", near, lat0, lon0, "", nil},
		{"36.9512, 8.2034", near, lat0, -lon0, "sign-longitude", []Point{{lat0, lon0}}},
		{"-36.9512, -8.2034", near, -lat0, lon0, "sign-latitude", []Point{{lat0, lon0}}},
		{"-36.9512, 8.2034", near, -lat0, -lon0, "sign-both", []Point{{lat0, lon0}}},
		{"-8.2034, 36.9512", near, lon0, lat0, "swapped", []Point{{lat0, lon0}}},
		{"8.2034, 36.9512", near, -lon0, lat0, "swapped-and-sign", []Point{{lat0, lon0}}},
		{"36.9512, 8.2034", box, lat0, -lon0, "sign-longitude", []Point{{lat0, lon0}}},
		{"36.9512 N 8.2034 O", near, lat0, lon0, "", nil},
		{"36.9512 N 8.2034 O", box, lat0, lon0, "", nil},
		{"36.9512 N 8.2034 O", Options{Near: &Point{37, 8}}, lat0, -lon0, "", nil},
		{"36.9512 N 8.2034", near, lat0, lon0, "", nil},
		{"36 57.072 8 12.204", near, lat0, lon0, "", nil},
		{"29S 570924.245271 4089755.244629", near, lat0, lon0, "", nil},
		{"36.9512, -18.2034", near, lat0, -18.2034, "far", nil},
		{"36.9512, -18.2034", box, lat0, -18.2034, "outside-region", nil},
		{"36.9512, -8.9", Options{Near: algarve, WithinKm: 30}, lat0, -8.9, "far", nil},
	} {
		r, err := Read(c.text, c.o)
		var other []Point
		for _, v := range r.Candidates {
			other = append(other, Point{v.LatDeg, v.LonDeg})
		}
		// grid positions come back to a nanodegree
		if err != nil || math.Abs(r.LatDeg-c.lat) > 1e-9 || math.Abs(r.LonDeg-c.lon) > 1e-9 || said(r) != c.said || !slices.Equal(other, c.other) {
			t.Errorf("%q: (%v, %v) %q %v %v; want (%v, %v) %q %v", c.text, r.LatDeg, r.LonDeg, said(r), other, err, c.lat, c.lon, c.said, c.other)
		}
	}
}

// TestReadPair: two fields of a sheet.
func TestReadPair(t *testing.T) {
	no := math.NaN()
	for _, c := range []struct {
		a, b     string
		o        Options
		lat, lon float64
		said     string
	}{
		{"36.9512", "-8.2034", Options{}, lat0, lon0, ""},
		{" 36,9512 ", "-8,2034", Options{}, lat0, lon0, ""},
		{"36.9512 N", "8.2034 W", Options{}, lat0, lon0, ""},
		{"N36°57.072'", "W8°12.204'", Options{}, lat0, lon0, ""},
		{"36 57 04.32", "-8 12 12.24", Options{}, lat0, lon0, ""},
		{"36°57'04.32\"", "8°12'12.24\"", Options{}, no, no, "latitude-side-missing longitude-side-missing"},
		{"36°57'04.32\"", "8°12'12.24\"", Options{Near: algarve}, lat0, lon0, ""},
		{"36:57:04.32", "-8:12:12.24", Options{}, lat0, lon0, ""},
		{"8.2034 W", "36.9512 N", Options{}, lat0, lon0, "fields-swapped"},
		{"-8.2034", "36.9512", Options{Near: algarve}, lon0, lat0, "swapped"},
		{"36.9512", "8.2034", Options{Near: algarve}, lat0, -lon0, "sign-longitude"},
		{"36.9512", "8.2034 O", Options{}, no, no, "latitude-letter-missing letter-o"},
		{"36.9512 N", "8.2034 O", Options{Region: &Box{30, 40, -20, 0}}, lat0, lon0, ""},
		{"36.9512, -8.2034", "", Options{}, lat0, lon0, ""},
		{"", "36.9512 N 8.2034 W", Options{}, lat0, lon0, ""},
		{"0", "0", Options{}, 0, 0, "zero"},
		{"151.2", "-33.85", Options{}, -33.85, 151.2, "fields-order"},
		{"36.9512", "351.7966", Options{}, lat0, lon0, "over-180"},
		{"3657.072", "-00812.204", Options{}, lat0, lon0, "compact"},
		{"ED50 36.9512", "-8.2034", Options{}, lat0, lon0, "datum"},
		{"36", "-8", Options{}, 36, -8, ""},
	} {
		r, err := ReadPair(c.a, c.b, c.o)
		same := math.IsNaN(c.lat) && !r.Known() || math.Abs(r.LatDeg-c.lat) < 1e-9 && math.Abs(r.LonDeg-c.lon) < 1e-9
		if err != nil || !same || said(r) != c.said {
			t.Errorf("%q, %q: (%v, %v) %q %v; want (%v, %v) %q", c.a, c.b, r.LatDeg, r.LonDeg, said(r), err, c.lat, c.lon, c.said)
		}
	}
	for _, c := range [][3]string{
		{"", "", "empty"}, {"36.9512 -8.2034", "12", "two-in-one-field"}, {"pier", "-8", "not-understood"}, {"36.9512x", "-9.1", "not-understood"}, {"36.9512", "-9.1y", "not-understood"}, {"96", "98", "latitude-range"}, {"96 N", "8", "latitude-range"}, {"36", "181 E", "longitude-range"},
		{"570924", "4089755", "grid-without-zone"}, {"570924.2", "4089755.2", "grid-without-zone"}, {"36.9512", "", "one-coordinate"}, {"36 N", "8 S", "same-axis"}, {"36,951,200", "8", "two-in-one-field"}, {"369512", "-82034", "degrees-range"},
	} {
		_, err := ReadPair(c[0], c[1], Options{})
		var bad *Refusal
		if !errors.As(err, &bad) || bad.Slug != "place."+c[2] {
			t.Errorf("%q, %q: %v; want %s", c[0], c[1], err, c[2])
		}
	}
}

// TestResolution: ground size of the last digit. By hand, with a degree of
// latitude of 110 986 m at 36.95° and of longitude 89 055 m: one in the fourth
// decimal 11.1 m; 0.001′ 1.85 m; 0.01″ 0.31 m; whole degrees 111 km.
func TestResolution(t *testing.T) {
	for text, want := range map[string]float64{
		"36.9512, -8.2034": 11.0986, "36.95, -8.2034": 1109.86, "36.9512, -8.20": 890.6, "36, -8": 110970,
		"36 57.072 N 8 12.204 W": 1.8498, "36 57 04.32 N 8 12 12.24 W": .3083, "29N 570924 4089755": 1, "29SNA709897": 100, "29N 570924.2 4089755": 1,
	} {
		r, err := Read(text, Options{})
		if err != nil || math.Abs(r.ResolutionM/want-1) > 2e-3 {
			t.Errorf("%q: %v m, want %v (%v)", text, r.ResolutionM, want, err)
		}
	}
}

// TestReadWrites: a position written in any of our ways is read again, clear.
func TestReadWrites(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat := math.Round(rapid.Float64Range(-79, 83).Draw(t, "lat")*1e5) / 1e5
		lon := math.Round(rapid.Float64Range(-179.9, 179.9).Draw(t, "lon")*1e5) / 1e5
		if lat == 0 || lon == 0 || lat == lon {
			return
		}
		ns, ew := "N", "E"
		if lat < 0 {
			ns = "S"
		}
		if lon < 0 {
			ew = "W"
		}
		a, o := math.Abs(lat), math.Abs(lon)
		dm := func(v float64) (int, float64) {
			u := int(math.Round(v * 6e6)) // 1e-5 minutes
			return u / 6e6, float64(u%6e6) / 1e5
		}
		ad, am := dm(a)
		od, om := dm(o)
		decimal := fmt.Sprintf("%.5f %.5f", lat, lon)
		if lat < 0 || lat > 90 {
			decimal = fmt.Sprintf("%.5f, %.5f", lat, lon)
		}
		for _, text := range []string{
			decimal, strings.ReplaceAll(decimal, ".", ","), fmt.Sprintf("%.5f%s %.5f%s", a, ns, o, ew), fmt.Sprintf("%s%.5f %s%.5f", ew, o, ns, a),
			fmt.Sprintf("%d°%.5f'%s %d°%.5f'%s", ad, am, ns, od, om, ew), fmt.Sprintf("%d %.5f %s; %d %.5f %s", ad, am, ns, od, om, ew),
		} {
			r, err := Read(text, Options{})
			if err != nil || !r.Known() || math.Abs(r.LatDeg-lat) > 2e-7 || math.Abs(r.LonDeg-lon) > 2e-7 {
				t.Fatalf("%q: %+v %v", text, r, err)
			}
			if !r.Clear() && !strings.Contains(text, ",") {
				t.Fatalf("%q: %s", text, said(r))
			}
		}
	})
}

func TestSignVariants(t *testing.T) {
	got := SignVariants(lat0, -lon0, algarve) // the sign of the longitude is lost: Tunisia's sea
	if len(got) != 7 || got[0].Slug != "place.sign-longitude" || got[0].LatDeg != lat0 || got[0].LonDeg != lon0 || got[0].FromKm > 1 {
		t.Fatalf("%+v", got)
	}
	for i := 1; i < len(got); i++ {
		if got[i].FromKm < got[i-1].FromKm {
			t.Errorf("not nearest first: %+v", got)
		}
	}
	for _, v := range SignVariants(-61.5, 16, nil) {
		if v.OnLand != OnLand(v.LatDeg, v.LonDeg) || !math.IsNaN(v.FromKm) {
			t.Errorf("%+v", v)
		}
	}
	// With a longitude above 90 latitude and longitude cannot have changed places.
	if got := SignVariants(-33.85, 151.2, nil); len(got) != 3 {
		t.Errorf("%+v", got)
	}
	if got := SignVariants(0, 0, nil); got != nil {
		t.Errorf("%+v", got)
	}
	if SignVariants(math.NaN(), 0, nil) != nil {
		t.Error("variants of nothing")
	}
}

// FuzzRead: no text panics; what is read lies on the Earth or says it is not
// known; what is clear is read again the same from its own decimal form.
func FuzzRead(f *testing.F) {
	for _, s := range []string{"36.9512, -8.2034", "36°57'04.32\"N 8°12'12.24\"W", "36,9512 8,2034 O", "29SNA7092489755", "29S 570924 4089755", "lat: 1 lon: 2", "36-57-04N 8-12-12W", "POINT(1 2)", "3657.07N 00812.20W", "N", "1e9 1", "8o12 N 3o4 E", "- 8 , - 9", "ms 1ms", "36d57m04sN 8d12m12sW"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, o := range []Options{{}, {Near: algarve}, {Region: &Box{-40, -30, 170, -170}}} {
			r, err := Read(s, o)
			check(t, s, r, err)
			r, err = ReadPair(s, "8.2", o)
			check(t, s, r, err)
		}
	})
}

func check(t *testing.T, s string, r Reading, err error) {
	t.Helper()
	if err != nil {
		var bad *Refusal
		if !errors.As(err, &bad) || !strings.HasPrefix(bad.Slug, "place.") {
			t.Fatalf("%q: %v", s, err)
		}
		return
	}
	if r.Known() {
		if !(r.LatDeg >= -90 && r.LatDeg <= 90 && r.LonDeg >= -180 && r.LonDeg <= 180) || r.Notation == "" || !(r.ResolutionM >= 0) {
			t.Fatalf("%q: %+v", s, r)
		}
		return
	}
	if len(r.Questions) == 0 || len(r.Candidates) < 2 {
		t.Fatalf("%q: not known and no question: %+v", s, r)
	}
}

func BenchmarkReadPair(b *testing.B) {
	for b.Loop() {
		if _, err := ReadPair("36.9512", "-8.2034", Options{Near: algarve}); err != nil {
			b.Fatal(err)
		}
	}
}
