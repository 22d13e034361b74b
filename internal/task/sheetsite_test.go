package task

import (
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/paper"
	"soakline/internal/tide"
	"soakline/internal/visits"
	"soakline/internal/water"
	"soakline/internal/words"
)

// TestSheetTellsTheWater: high water 3 m at 06:00, low 1 m at 12:00, high 3 m at
// 18:00 UTC, half a cosine between them. By hand: 2 m at 09:00 and 15:00, so
// over beds of 0.5 and 0.2 m 1.5 to 1.8 m. The way is crossed up to 2 m: at 13:00
// it is open until 15:00, and a walk of 20 minutes begins by 14:40 (14:39 where
// the minute is not whole); at 16:00 it is closed.
func TestSheetTellsTheWater(t *testing.T) {
	day := func(h int) time.Time { return time.Date(2026, 7, 1, h, 0, 0, 0, time.UTC) }
	table, _, err := tide.NewTable([]tide.Water{{At: day(6), HeightM: 3, Kind: "high"}, {At: day(12), HeightM: 1, Kind: "low"}, {At: day(18), HeightM: 3, Kind: "high"}}, tide.Secondary{})
	if err != nil {
		t.Fatal(err)
	}
	site := assay.Site{Name: "Kell Spit", ShallowBedM: assay.Some(0.5), DeepBedM: assay.Some(0.2), AccessM: assay.Some(2.0), WalkMin: assay.Some(20.0),
		Latitude: assay.Some(0.0), Longitude: assay.Some(0.0), WayIn: "second slip.", Permits: []assay.Permit{{Number: "P-1"}, {Number: "P-0", Until: "2026-06-30"}}}
	k := &SheetSites{l: words.English, sites: []assay.Site{site}, water: map[string]*water.Opened{"Kell Spit": {Source: visits.FromTable(table)}}}
	zone := time.FixedZone("UTC+1", 3600) // the row's clock is an hour ahead
	for _, c := range []struct {
		at           time.Time
		water, leave string
	}{
		{day(9), "1.5 to 1.8 m deep", "15:39"},
		{day(13), "0.6 to 0.9 m deep", "15:39"}, // 2 − cos 30° = 1.134 m
		{day(16), "2.0 to 2.3 m deep (way closed by the water then)", ""},
		{day(20), "", ""}, // beyond the table
	} {
		var due paper.Due
		k.tell(&due, &site, c.at.In(zone))
		// 15:00 UTC less 20 min is 14:40, 15:40 on the row's clock; a minute may be
		// lost to the safe side.
		late := c.leave
		if c.leave == "15:39" {
			late = "15:40"
		}
		if due.Water != c.water || due.LeaveBy != c.leave && due.LeaveBy != late {
			t.Errorf("%s: %+v, by hand %q, leave by %q", c.at.Format("15:04"), due, c.water, c.leave)
		}
		// On the equator near midsummer the sun is up for about 12 h 7 min.
		from, err1 := time.Parse("15:04", due.Light[:5])
		to, err2 := time.Parse("15:04", due.Light[len(due.Light)-5:])
		if up := to.Sub(from).Minutes(); err1 != nil || err2 != nil || up < 12*60+3 || up > 12*60+9 {
			t.Errorf("light %q", due.Light)
		}
	}
	var r paper.Row
	k.fill(&r, &site, day(9))
	if r.Permit != "P-1" || r.Notes != "Way in: second slip." {
		t.Errorf("%+v", r)
	}
	if k.of(&assay.Deployment{Site: "elsewhere"}) != nil {
		t.Error("a site that is not in the book")
	}
	var none *SheetSites
	none.tell(&paper.Due{}, none.of(&assay.Deployment{}), day(9))
}

// Whom to call stands on a row's sheet, and once on the plan of a day: where the
// day's sites differ, each with its name.
func TestWhomToCall(t *testing.T) {
	k := &SheetSites{l: words.English, sites: []assay.Site{{Name: "Kell Spit", Emergency: "112"}, {Name: "Dock", Emergency: "the harbour office (invented)"}, {Name: "Bare"}}}
	var rows []paper.Row
	for _, name := range []string{"Kell Spit", "Kell Spit", "Dock", "Bare"} {
		r := paper.Row{Site: name}
		k.fill(&r, k.of(&assay.Deployment{Site: name}), time.Time{})
		rows = append(rows, r)
	}
	for n, want := range map[int]string{0: "", 1: "112", 2: "112", 3: "Kell Spit: 112; Dock: the harbour office (invented)", 4: "Kell Spit: 112; Dock: the harbour office (invented)"} {
		if got := paper.Emergencies(rows[:n]); got != want {
			t.Errorf("%d rows: %q, want %q", n, got, want)
		}
	}
	if rows[0].Emergency != "112" || rows[3].Emergency != "" {
		t.Errorf("on the sheets: %q and %q", rows[0].Emergency, rows[3].Emergency)
	}
}
