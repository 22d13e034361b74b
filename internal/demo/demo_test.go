package demo

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"soakline/internal/assay"
	"soakline/internal/place"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

func TestSameSeedSameBytes(t *testing.T) {
	a, b := Make(7), Make(7)
	other := Make(8)
	if len(a.Files()) != 14 {
		t.Errorf("%d files", len(a.Files()))
	}
	for i, f := range a.Files() {
		if !bytes.Equal(f.Bytes, b.Files()[i].Bytes) {
			t.Errorf("%s differs between two seasons of one seed", f.Name)
		}
		if bytes.Equal(f.Bytes, other.Files()[i].Bytes) {
			t.Errorf("%s is the same for two seeds", f.Name)
		}
	}
	if d := cmp.Diff(a.Clean(), b.Clean(), exact...); d != "" {
		t.Error(d)
	}
}

var exact = []cmp.Option{cmpopts.EquateEmpty(), cmp.AllowUnexported(assay.Maybe[int]{}, assay.Maybe[float64]{}, assay.Maybe[bool]{})}

func TestWrite(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "folder")
	s := Make(DefaultSeed)
	if err := s.Write(dir); err != nil {
		t.Fatal(err)
	}
	for _, f := range s.Files() {
		if b, err := os.ReadFile(filepath.Join(dir, f.Name)); err != nil || !bytes.Equal(b, f.Bytes) {
			t.Errorf("%s: %v", f.Name, err)
		}
	}
	if err := s.Write(filepath.Join(dir, AboutFile)); err == nil {
		t.Error("written into a file")
	}
}

// TestSize holds the season against what it must hold at least.
func TestSize(t *testing.T) {
	for _, seed := range []uint64{DefaultSeed, 1, 2} {
		clean := Make(seed).Clean()
		sites, teams, years, kinds := map[string]bool{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
		var controls, practice, unread, noCheck1, noCheck2, sightings, fates, late int
		for _, d := range clean {
			sites[d.Site], teams[d.Team], years[d.Season], kinds[d.Habitat] = true, true, true, true
			if d.IsControl() {
				controls++
			}
			if d.IsPractice() {
				practice++
			}
			if len(d.Checks) == 1 {
				noCheck2++
			} else if soak, ok := d.SoakH(d.Checks[1]); ok && soak > 26 {
				late++
			}
			if !d.Checks[0].Read() {
				noCheck1++
			}
			unread += d.Checks[0].Unread.Or(0)
			sightings += len(d.Sightings)
			fates += len(d.Stakes)
		}
		if len(clean) != 103 || len(sites) != 12 || len(teams) != 4 || len(years) != 2 || len(kinds) != 3 {
			t.Errorf("seed %d: %d rows, %d sites, %d teams, %d seasons, %d habitats", seed, len(clean), len(sites), len(teams), len(years), len(kinds))
		}
		if controls != 4 || practice != 3 || unread == 0 || noCheck1 != 1 || noCheck2 != 1 || sightings < 3 || fates < 1000 || late < 2 {
			t.Errorf("seed %d: %d control and %d practice rows, %d baits unread, %d and %d checks not made, %d sightings, %d fates, %d late checks",
				seed, controls, practice, unread, noCheck1, noCheck2, sightings, fates, late)
		}
	}
}

// TestEveryFileSaysInvented reads each file as its own program would.
func TestEveryFileSaysInvented(t *testing.T) {
	s := Make(DefaultSeed)
	for _, f := range s.Files() {
		if !strings.HasPrefix(f.Name, "invented-") {
			t.Errorf("the name %s does not say it", f.Name)
		}
		if !strings.HasSuffix(f.Name, ".xlsx") {
			if !strings.Contains(strings.ToLower(decoded(t, f)), "invented") {
				t.Errorf("%s does not say it", f.Name)
			}
			continue
		}
		w := workbook(t, f.Bytes)
		for _, name := range w.GetSheetList() {
			if v, err := w.GetCellValue(name, "A1"); err != nil || !strings.Contains(v, "INVENTED") {
				t.Errorf("sheet %s of %s begins %q, %v", name, f.Name, v, err)
			}
		}
		if p, err := w.GetDocProps(); err != nil || !strings.Contains(p.Title, "INVENTED") {
			t.Errorf("%s has the title %q, %v", f.Name, p.Title, err)
		}
	}
	for _, d := range s.Clean() {
		if !strings.Contains(d.Programme, "invented") || d.Notes != Invented {
			t.Errorf("row %s: programme %q, notes %q", d.ID, d.Programme, d.Notes)
		}
	}
}

func workbook(t *testing.T, b []byte) *excelize.File {
	t.Helper()
	w, err := excelize.OpenReader(bytes.NewReader(b), excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.Close() })
	return w
}

// decoded is the text of a file, by the encoding its team uses.
func decoded(t *testing.T, f File) string {
	t.Helper()
	out, err := f.Bytes, error(nil)
	switch f.Team {
	case "Espuma":
		out, err = charmap.Windows1252.NewDecoder().Bytes(f.Bytes)
	case "Salina":
		out, err = unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder().Bytes(f.Bytes)
	}
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// cells reads a messy file (or one sheet of it) into lines, from line 1.
func cells(t *testing.T, f File, name string) [][]string {
	t.Helper()
	if name != "" {
		lines, err := workbook(t, f.Bytes).GetRows(name)
		if err != nil {
			t.Fatal(err)
		}
		return lines
	}
	comma := map[string]rune{"Brisa": ',', "Espuma": ';', "Salina": '\t'}[f.Team]
	var out [][]string
	for line := range strings.SplitSeq(decoded(t, f), "\r\n") { // no cell of ours holds a line break
		r := csv.NewReader(strings.NewReader(line))
		r.Comma, r.LazyQuotes = comma, true
		record, _ := r.Read()
		out = append(out, record)
	}
	return out
}

// TestPlantedStandInTheFiles finds every planted mistake where the list says.
func TestPlantedStandInTheFiles(t *testing.T) {
	s := Make(DefaultSeed)
	files := map[string]File{}
	for _, f := range s.Files() {
		files[f.Name] = f
	}
	var what []string
	for _, p := range s.Planted() {
		if p.Line == 0 {
			continue
		}
		lines := cells(t, files[p.File], p.Sheet)
		header := slices.IndexFunc(lines, func(l []string) bool {
			return len(l) > 0 && slices.Contains([]string{"deployment_id", "código", "ID"}, l[0])
		})
		_, heading, ok := strings.Cut(p.Column, " / ")
		from := 0
		if !ok {
			heading = p.Column
		} else {
			over := strings.Split(p.Column, " / ")[0]
			from = slices.Index(lines[header-1], over)
		}
		column := from + slices.Index(lines[header][from:], heading)
		got := lines[p.Line-1]
		if got[0] != p.DeploymentID {
			t.Errorf("%s: line %d is of %s, not %s", p.What, p.Line, got[0], p.DeploymentID)
		}
		cell := ""
		if column < len(got) {
			cell = got[column]
		}
		if x, err := strconv.ParseFloat(cell, 64); err == nil && strings.Contains(p.Written, ":") {
			at, err := excelize.ExcelDateToTime(x, false)
			if err != nil {
				t.Fatal(err)
			}
			cell = at.Round(time.Second).Format(time.DateTime)
		}
		if cell != p.Written {
			t.Errorf("%s: %s %s line %d, column %s holds %q, not %q", p.What, p.File, p.Sheet, p.Line, p.Column, cell, p.Written)
		}
		if p.Kind == Mistake {
			what = append(what, strings.TrimPrefix(p.What, "demo.planted."))
			if p.Written == p.Right || p.FoundBy == "" {
				t.Errorf("%s: written %q, right %q, found by %q", p.What, p.Written, p.Right, p.FoundBy)
			}
		}
	}
	want := []string{"swapped", "sign", "above-deployed", "id-twice", "habitat-typo", "wrong-year", "checks-swapped",
		"site-spelling", "letter-for-digit", "comma-forgotten", "row-twice", "count-against-stakes", "came-back"}
	if d := cmp.Diff(want, what); d != "" {
		t.Error(d)
	}
}

// TestPlantedDoNoHarm: whatever the seed, a season is made, its lists stand in
// the catalogue, and a team's slips do not fall on one row twice.
func TestPlantedDoNoHarm(t *testing.T) {
	for seed := range uint64(25) {
		s := Make(seed)
		seen := map[string]string{}
		for _, p := range s.Planted() {
			if !words.Has(p.What) || strings.HasPrefix(p.Text, "⟨") {
				t.Errorf("no sentence %s", p.What)
			}
			if p.Kind != Habit {
				key := p.File[:len(filePrefix)+3] + p.DeploymentID
				if before := seen[key]; before != "" && (p.Kind == Mistake || before == "m") {
					t.Errorf("seed %d: two things planted in row %s", seed, p.DeploymentID)
				}
				seen[key] = p.Kind[:1]
			}
		}
		for _, a := range s.Answers() {
			if !words.Has(a.Why) {
				t.Errorf("no sentence %s", a.Why)
			}
			if a.Field != "" {
				if _, _, ok := sheet.Find(sheet.Wide, a.Field); !ok && !strings.HasPrefix(a.Field, "fates") {
					t.Errorf("no column %s", a.Field)
				}
			}
		}
	}
}

func TestEditedDiffersInOneCell(t *testing.T) {
	s := Make(DefaultSeed)
	for _, f := range s.Files() {
		edited, ok := s.Edited(f.Name)
		if want := f.Name == "invented-espuma.csv"; ok != want {
			t.Fatalf("Edited(%s) = %v", f.Name, ok)
		}
		if !ok {
			continue
		}
		a, b := cells(t, f, ""), cells(t, File{Bytes: edited, Team: f.Team}, "")
		differ := 0
		for i := range a {
			for j := range a[i] {
				if a[i][j] != b[i][j] {
					differ++
				}
			}
		}
		if differ != 1 {
			t.Errorf("%d cells differ", differ)
		}
	}
}

// TestPositions: every row at sea, half a km off the embedded shoreline or
// more, inside its site, and no two near each other on one day; and the slips
// of position end up on land, by more than the standard protocol lets pass.
func TestPositions(t *testing.T) {
	protocols, _ := sheet.Protocols()
	p := protocols[sheet.DefaultProtocol]
	s := Make(DefaultSeed)
	clean := s.Clean()
	for i, d := range clean {
		lat, lon := d.Latitude.Or(99), d.Longitude.Or(999)
		if place.OnLand(lat, lon) || place.DistanceToShoreKm(lat, lon) < 0.5 {
			t.Errorf("row %s at %v, %v is on land or %.2f km from it", d.ID, lat, lon, place.DistanceToShoreKm(lat, lon))
		}
		for _, e := range clean[:i] {
			m, _, _ := place.Between(lat, lon, e.Latitude.Or(0), e.Longitude.Or(0))
			if apart := d.SetOut.At.Sub(e.SetOut.At).Abs().Hours(); m < p.NearM && apart < p.NearH {
				t.Errorf("rows %s and %s are %.0f m and %.1f h apart", d.ID, e.ID, m, apart)
			}
			if d.Site == e.Site && m > 1000*p.SiteRadiusKm {
				t.Errorf("rows %s and %s of one site are %.0f m apart", d.ID, e.ID, m)
			}
			if d.ID == e.ID {
				t.Errorf("identifier %s twice", d.ID)
			}
		}
	}
	for _, slip := range s.Planted() {
		var lat, lon float64
		for _, d := range clean {
			if d.ID != slip.DeploymentID {
				continue
			}
			switch slip.What {
			case "demo.planted.swapped":
				lat, lon = d.Longitude.Or(0), d.Latitude.Or(0)
			case "demo.planted.sign":
				lat, lon = d.Latitude.Or(0), -d.Longitude.Or(0)
			default:
				continue
			}
			if km := place.InlandKm(lat, lon); km < p.OnLandKm {
				t.Errorf("%s puts row %s %.1f km inland", slip.What, d.ID, km)
			}
		}
	}
}

// TestClocks: the teams' clocks are those of their zones on every day used.
func TestClocks(t *testing.T) {
	for _, d := range Make(DefaultSeed).Clean() {
		for _, m := range []assay.Moment{d.SetOut, d.Checks[len(d.Checks)-1].At} {
			for _, c := range crews() {
				if c.name != d.Team {
					continue
				}
				zone, err := time.LoadLocation(c.zone)
				if err != nil {
					t.Fatal(err)
				}
				if _, offset := m.At.In(zone).Zone(); offset != m.OffsetS {
					t.Errorf("row %s: offset %d, the zone has %d", d.ID, m.OffsetS, offset)
				}
				if h := m.Local().Hour(); h < 8 || h > 19 {
					t.Errorf("row %s is worked on at %s", d.ID, m.Local().Format(time.DateTime))
				}
			}
		}
	}
}

// TestCleanHoldsTogether: counts grow, fit the baits set out and the fates of
// the stakes, checks follow each other.
func TestCleanHoldsTogether(t *testing.T) {
	for seed := range uint64(10) {
		for _, d := range Make(seed).Clean() {
			before := assay.Check{}
			last := d.SetOut.At
			for _, c := range d.Checks {
				if !c.Read() {
					continue
				}
				if c.Consumed.Or(0) < before.Consumed.Or(0) || c.Lost.Or(0) < before.Lost.Or(0) || c.Consumed.Or(0)+c.Lost.Or(0)+c.Unread.Or(0) > d.Baits || !c.At.At.After(last) {
					t.Fatalf("seed %d, row %s: %+v", seed, d.ID, d.Checks)
				}
				before, last = c, c.At.At
				tally := map[assay.Fate]int{}
				for _, f := range d.Stakes {
					if f.Check == c.Number {
						tally[f.Fate]++
					}
				}
				if d.Stakes != nil && (tally[assay.Consumed] != c.Consumed.Or(0) || tally[assay.Lost] != c.Lost.Or(0) || tally[assay.Unread] != c.Unread.Or(0)) {
					t.Fatalf("seed %d, row %s: counts %+v, stakes %v", seed, d.ID, c, tally)
				}
			}
		}
	}
}

// TestCanonicalReadsBack reads the clean files with encoding/csv and package sheet.
func TestCanonicalReadsBack(t *testing.T) {
	s := Make(DefaultSeed)
	clean := s.Clean()
	lines, err := csv.NewReader(bytes.NewReader(Canonical(clean))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for i, d := range clean {
		v := map[string]string{}
		for c, name := range lines[0] {
			v[name] = lines[i+1][c]
		}
		got, faults := sheet.Deployment(v)
		if faults != nil {
			t.Fatalf("row %s: %v", d.ID, faults[0])
		}
		d.Stakes, d.Sightings = nil, nil
		if diff := cmp.Diff(d, got, exact...); diff != "" {
			t.Fatalf("row %s: %s", d.ID, diff)
		}
	}
	stakes, err := csv.NewReader(bytes.NewReader(CanonicalStakes(clean))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	sightings, err := csv.NewReader(bytes.NewReader(CanonicalSightings(clean))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	fates, seen := 0, 0
	for _, d := range clean {
		fates, seen = fates+len(d.Stakes), seen+len(d.Sightings)
	}
	if len(stakes) != fates+1 || len(sightings) != seen+1 || math.Min(float64(fates), float64(seen)) == 0 {
		t.Errorf("%d lines for %d fates, %d for %d sightings", len(stakes), fates, len(sightings), seen)
	}
}
