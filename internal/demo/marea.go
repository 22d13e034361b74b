package demo

import (
	"slices"
	"strconv"
	"time"

	"github.com/xuri/excelize/v2"

	"soakline/internal/assay"
)

// The layout of Marea's sheets: a title, a blank line, two lines of header.
const mareaHeader = 3

var mareaColumns = []column{
	{"id", "Row", "ID"}, {"season", "Row", "Season"}, {"habitat", "Row", "Habitat"}, {"lat", "Row", "Lat"}, {"lon", "Row", "Lon"},
	{"out", "Set out", "Date and time"}, {"baits", "Set out", "Baits"}, {"who", "Set out", "Who"}, {"batch", "Set out", "Bait batch"},
	{"at1", "1 h check", "Date and time"}, {"left1", "1 h check", "Left"}, {"lost1", "1 h check", "Lost so far"},
	{"at2", "24 h check", "Date and time"}, {"left2", "24 h check", "Left"}, {"lost2", "24 h check", "Lost so far"},
	{"min", "Water", "Depth min (m)"}, {"max", "Water", "Depth max (m)"}, {"temp", "Water", "Temp (°C)"},
	{"control", "Row", "Control"}, {"practice", "Row", "Practice"}, {"notes", "Row", "Notes"},
}

var mareaHabitats = map[string]string{seagrass: "Seagrass", sand: "Sand", reef: "Rocky reef"}

// marea writes a workbook, one sheet per site and one about the season: real
// dates by the local clock, baits left instead of gone, totals below.
func (s *Season) marea(c *crew, rows []*row) {
	slices.SortStableFunc(rows, func(a, b *row) int { return slices.Index(c.sites, a.site) - slices.Index(c.sites, b.site) })
	name := filePrefix + "marea.xlsx"
	var tables []*table
	for _, p := range c.sites {
		t := &table{file: name, sheet: p.name, columns: mareaColumns, firstLine: mareaHeader + 2, index: map[*row]int{}}
		for _, r := range rows {
			if r.site == p {
				t.record(r, mareaCells(r))
			}
		}
		tables = append(tables, t)
	}
	first := *tables[0]
	first.sheet = ""
	s.listSites(&first, c)
	s.habit(&first, "", "sheet-per-site", ByQuestion)
	s.habit(&first, "out", "serial-local", ByReason)
	s.habit(&first, "left1", "left", ByReason)
	s.habit(&first, "id", "totals", ByReason)
	s.reply(&first, "sheet-name", "site", "sheet-per-site")
	s.meant(&first, "habitat", mareaHabitats[reef], reef)
	s.mareaSlips(tables)
	for _, t := range tables {
		s.oddities(t, "at1", "at2", "lost2", "baits")
	}
	s.file(name, s.mareaBook(c, tables))
}

func mareaCells(r *row) map[string]string {
	v := map[string]string{
		"id": r.ID, "season": r.Season, "habitat": mareaHabitats[r.Habitat], "lat": number(r.Latitude.Or(0)), "lon": number(r.Longitude.Or(0)),
		"out": clock(r.SetOut, time.DateTime), "baits": strconv.Itoa(r.Baits), "who": r.Observers, "batch": r.BaitBatch,
		"min": number(r.DepthMinM.Or(0)), "max": number(r.DepthMaxM.Or(0)), "temp": "n/a", "notes": r.Notes,
	}
	if c, ok := r.TemperatureC.Get(); ok {
		v["temp"] = number(c)
	}
	if r.IsControl() {
		v["control"] = string(r.Control)
	}
	if r.IsPractice() {
		v["practice"] = "yes"
	}
	for k, c := range r.Checks {
		n := strconv.Itoa(k + 1)
		v["at"+n], v["left"+n], v["lost"+n] = clock(c.At, time.DateTime), strconv.Itoa(r.left(c)), strconv.Itoa(c.Lost.Or(0))
	}
	return v
}

// left is the number of baits still on their tethers at a check.
func (r *row) left(c assay.Check) int { return r.Baits - c.Consumed.Or(0) - c.Lost.Or(0) }

func (s *Season) mareaSlips(tables []*table) {
	if r := tables[0].pick(2, func(r *row) bool { return r.Habitat == seagrass }); r != nil {
		s.mistake(tables[0], r, "habitat", "Sea gras", "habitat-typo", ByQuestion)
		s.meant(tables[0], "habitat", "Sea gras", seagrass)
	}
	t := tables[1]
	if r := t.pick(3, func(r *row) bool { return r.Season == "2026" }); r != nil {
		right := r.Checks[1].At
		wrong := right.Local().AddDate(-1, 0, 0).Format(time.DateTime)
		at := s.mistake(t, r, "at2", wrong, "wrong-year", ByBlock)
		s.correct(at, "check2_at", formatLocal(right), "wrong-year")
	}
	t = tables[2]
	if r := t.pick(1, func(r *row) bool {
		return r.left(r.Checks[0])-r.left(r.Checks[1]) >= 4 && r.Checks[0].Lost == r.Checks[1].Lost
	}); r != nil {
		left1, left2 := t.get(t.index[r], "left1"), t.get(t.index[r], "left2")
		at := s.mistake(t, r, "left1", left2, "checks-swapped", ByBlock)
		t.put(t.index[r], "left2", left1)
		s.correct(at, "consumed_by_check1", strconv.Itoa(consumedBy(r, 1)), "checks-swapped")
		s.correct(at, "consumed_by_check2", strconv.Itoa(consumedBy(r, 2)), "checks-swapped")
	}
}

// mareaBook makes the workbook; its properties carry fixed times.
func (s *Season) mareaBook(c *crew, tables []*table) []byte {
	f := excelize.NewFile()
	b := &book{f: f}
	b.check(f.SetSheetName("Sheet1", "About"))
	for i, pair := range [][2]string{
		{s.mark(), ""}, {"", ""}, {"Programme", Programme}, {"Team", c.name},
		{"Clock", "times as on our watches"}, {"Left", "baits still on their tethers, and stakes we found"},
	} {
		b.put("About", 1, i+1, pair[0])
		b.put("About", 2, i+1, pair[1])
	}
	b.check(f.SetColWidth("About", "A", "B", 26))
	for _, t := range tables {
		b.sheet(t, s.mark())
	}
	fixed := "2026-08-01T08:00:00Z"
	b.check(f.SetDocProps(&excelize.DocProperties{Title: s.mark(), Subject: Programme, Creator: "invented", LastModifiedBy: "invented", Description: s.mark(), Created: fixed, Modified: fixed, Language: "en"}))
	return b.bytes()
}
