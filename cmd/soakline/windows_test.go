package main

import "path/filepath"

// The calls whose JSON TestJSONFitsSchema holds against the schema of windows: a
// cosine tide, invented, with and without a way, and ranges without a start.
func init() {
	here := func(name string) string {
		p, err := filepath.Abs(name)
		if err != nil {
			panic(err)
		}
		return p
	}
	at := []string{"windows", "--latitude", "36.95", "--longitude", "-8.2", "--zone", "Europe/Lisbon", "--from", "2026-07-01", "--to", "2026-07-03"}
	with := func(more ...string) []string { return append(append([]string{}, at...), more...) }
	cosine, waters := here("testdata/windows/cosine.csv"), here("testdata/windows/waters.csv")
	outputs["windows.schema.json"] = [][]string{
		with("--constituents", cosine, "--bed", "0.2", "--work-min", "0", "--work-max", "1.3", "--access", "1.5", "--walk", "25m"),
		with("--constituents", cosine, "--bed", "1.18", "--work-min", "0", "--work-max", "1.3"),
		with("--table", waters, "--clock", "UTC", "--bed", "0.2,0.1", "--work-min", "0", "--work-max", "1.3", "--quiet", "21:00-07:00", "--weekdays", "wed,thu,fri"),
		{"windows", "sea.logbook", "--from", "2026-07-01", "--to", "2026-07-03", "--way", "snorkelling", "--margin", "0.2"},
		{"windows", "sea.logbook", "--site", "spit", "--from", "2026-07-01", "--to", "2026-07-02", "--work-min", "0", "--work-max", "1.3"},
	}
}
