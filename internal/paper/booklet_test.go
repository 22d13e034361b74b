package paper

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"soakline/internal/figure"
	"soakline/internal/place"
	"soakline/internal/words"
)

func aMap(id string, bearing float64) RowMap {
	return RowMap{ID: id, About: "Kell Spit · seagrass", LatDeg: 36.9512, LonDeg: -8.2034, BearingDeg: bearing, SpacingM: 2, Stakes: 25}
}

// aDay is an invented day of a team.
func aDay(l words.Language, s Size) BookletOptions {
	o := BookletOptions{SheetOptions: options(l, s, Counts, 1, known()), Team: "Tarn", Day: "2026-07-01", Zone: "WEST, UTC+01:00", Names: "A. Example, B. Example", NoMap: []string{"KELL-09"}}
	o.Invented = true
	for i := range 9 {
		v := Visit{Row: fmt.Sprintf("KELL-%02d", i+7), What: l.Say("paper.book.check", words.P{"n": 1, "soak": "1 h"}), Where: "Kell Spit · seagrass", Due: Due{At: fmt.Sprintf("%02d:00", 8+i), From: "09:45", To: "10:15", Water: "0.8 m", LeaveBy: "11:20"}}
		if i%3 == 2 {
			v.What, v.Sheet = l.Say("paper.book.last", words.P{"n": 2, "soak": "24 h"}), "2026-06-30"
		}
		o.Visits = append(o.Visits, v)
	}
	for i, b := range []float64{45, 0, 300} {
		m := aMap(fmt.Sprintf("KELL-%02d", i+7), b)
		for k := range 2 * i {
			m.Near = append(m.Near, Neighbour{ID: fmt.Sprintf("KELL-%02d", 20+k), LatDeg: 36.9512 + 0.0003*float64(k+1), LonDeg: -8.2034 + 0.0002*float64(k), BearingDeg: 80, LongM: 48})
		}
		o.Maps = append(o.Maps, m)
	}
	for i := range 19 {
		o.Packing = append(o.Packing, PackLine{l.Say("prep.take.person-kit", nil), i, i%3 - 1})
	}
	return o
}

func TestBookletIsWhole(t *testing.T) {
	dir := os.Getenv("PAPER_LOOK")
	for _, l := range words.Languages {
		for _, s := range Sizes {
			o := aDay(l, s)
			pages, err := bookletPages(o)
			if err != nil {
				t.Fatal(err)
			}
			text := ""
			for i, p := range pages {
				if p.Err != nil {
					t.Fatalf("%s %s page %d: %v", l, s.Name, i+1, p.Err)
				}
				whole(t, fmt.Sprintf("%s %s page %d", l, s.Name, i+1), p)
				for _, x := range record(p).texts {
					text += x.S + " "
				}
			}
			if !strings.Contains(text, strings.Fields(l.Say("prep.run-out", nil))[2]) || !strings.Contains(text, "KELL-20") {
				t.Errorf("%s %s: nothing on baits that run out, or no neighbour", l, s.Name)
			}
			for _, v := range o.Visits {
				if !strings.Contains(text, v.Row) || !strings.Contains(text, v.Due.At) {
					t.Errorf("%s %s: nothing says %+v", l, s.Name, v)
				}
			}
			if len(pages) != 5 { // plan, packing, one sheet, two pages of maps
				t.Errorf("%s %s: %d pages", l, s.Name, len(pages))
			}
			if b, err := Booklet(o); err != nil {
				t.Error(err)
			} else if dir != "" {
				if err := os.WriteFile(filepath.Join(dir, "booklet-"+string(l)+"-"+s.Name+".pdf"), b, 0o644); err != nil {
					t.Error(err)
				}
			}
		}
	}
}

// TestMapToScale: a ruler on the printed map gives the spacing and the bearing
// that were planned, whatever the bearing, the latitude and the spacing.
func TestMapToScale(t *testing.T) {
	for _, m := range []RowMap{aMap("a", 0), aMap("b", 45), aMap("c", 137), aMap("d", 270), aMap("e", -30),
		{ID: "f", LatDeg: 69, LonDeg: 19, BearingDeg: 200, SpacingM: 5, Stakes: 40}, {ID: "g", LatDeg: -33.9, LonDeg: 151, BearingDeg: 88, SpacingM: 0.5, Stakes: 10}} {
		p := newPage(A4, words.English)
		p.rowMap(m, 20)
		if p.Err != nil {
			t.Fatalf("%s: %v", m.ID, p.Err)
		}
		var r stakeDots
		p.On(&r)
		if len(r.at) != m.Stakes {
			t.Fatalf("%s: %d stakes drawn of %d", m.ID, len(r.at), m.Stakes)
		}
		plan, err := m.plan(mapSide-2*mapClear, mapSide-2*mapClear)
		if err != nil {
			t.Fatal(err)
		}
		a, b := r.at[0], r.at[len(r.at)-1]
		longM := math.Hypot(b.X-a.X, b.Y-a.Y) / 1000 * plan.scale
		if want := float64(m.Stakes-1) * m.SpacingM; math.Abs(longM-want) > 0.01*want {
			t.Errorf("%s: %.2f m measured, %.2f m planned", m.ID, longM, want)
		}
		bearing := math.Mod(math.Atan2(b.X-a.X, a.Y-b.Y)*180/math.Pi+360, 360)
		if d := math.Abs(math.Mod(bearing-m.BearingDeg+540, 360) - 180); d > 0.1 {
			t.Errorf("%s: bearing %.2f measured, %.2f planned", m.ID, bearing, m.BearingDeg)
		}
		for _, q := range r.at {
			if q.X < p.Left() || q.X > p.Left()+mapSide || q.Y < 20 || q.Y > 20+8+mapSide {
				t.Errorf("%s: a stake stands outside the map", m.ID)
			}
		}
		whole(t, m.ID, p)
	}
	far := aMap("far", 0)
	far.SpacingM = 5000
	p := newPage(A4, words.English)
	p.rowMap(far, 20)
	var room *NoRoom
	if !errors.As(p.Err, &room) {
		t.Errorf("a row of 120 km on one map: %v", p.Err)
	}
}

// stakeDots remembers the dots that stand for stakes.
type stakeDots struct {
	extent
	at []figure.Point
}

func (r *stakeDots) Discs(c []figure.Point, _ float64, _ figure.Fill, _ figure.Stroke) { r.at = c }

// TestNeighboursToScale: by hand, a row of 25 stakes 2 m apart runs 48 m north; a
// neighbour's stake 1 stands 60 m east of its own and runs 48 m north, too. Both fit
// 78 mm at 1 : 1000 (60 and 48 mm), and the neighbour's ends lie 60 mm right of the
// row's. A row 3 km off is told in words and not drawn; the scale stays.
func TestNeighboursToScale(t *testing.T) {
	m := aMap("A", 0)
	lat, lon, _ := place.From(m.LatDeg, m.LonDeg, 90, 60)
	farLat, farLon, _ := place.From(m.LatDeg, m.LonDeg, 200, 3000)
	m.Near = []Neighbour{{ID: "B", LatDeg: lat, LonDeg: lon, BearingDeg: 0, LongM: 48}, {ID: "C", LatDeg: farLat, LonDeg: farLon}}
	r, err := m.plan(mapSide-2*mapClear, mapSide-2*mapClear)
	if err != nil || r.scale != 1000 {
		t.Fatalf("1 : %g, %v", r.scale, err)
	}
	first, last := r.at[0], r.at[24]
	for i, want := range []figure.Point{{X: first.X + 60, Y: first.Y}, {X: last.X + 60, Y: last.Y}} {
		if got := r.near[0][i]; math.Hypot(got.X-want.X, got.Y-want.Y) > 0.02 {
			t.Errorf("end %d of the neighbour at %v, want %v", i, got, want)
		}
	}
	p := newPage(A4, words.English)
	p.rowMap(m, marginMM+7)
	texts := ""
	b := 0
	for _, x := range record(p).texts {
		texts += x.S + " "
		if x.S == "B" {
			b++
		}
		if x.S == "C" {
			t.Error("a row far away is drawn")
		}
	}
	if p.Err != nil || b != 1 || !strings.Contains(texts, "B 60 m to 90°") || !strings.Contains(texts, "C 3,000 m to 200°") && !strings.Contains(texts, "C 3000 m to 200°") {
		t.Errorf("%v: %s", p.Err, texts)
	}
}
