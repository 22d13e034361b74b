package main

import (
	"path/filepath"
	"slices"
)

// The calls whose JSON TestJSONFitsSchema holds against the schemas of tide.
func init() {
	here := func(name string) string {
		p, err := filepath.Abs(name)
		if err != nil {
			panic(err)
		}
		return p
	}
	public := "../../internal/tide/testdata/"
	file := here("testdata/tide/constituents.csv")
	outputs["tide-predict.schema.json"] = [][]string{
		{"tide", "predict", "--constituents", file, "--from", "2026-07-01", "--to", "2026-07-03"},
		{"tide", "predict", "--constituents", file, "--from", "2026-07-01", "--to", "2026-07-01T00:00:05Z", "--nodal", "satellites", "--latitude", "-33", "--lag-clock", "UTC+9:30"},
	}
	outputs["tide-analyse.schema.json"] = [][]string{
		{"tide", "analyse", here(public + "tuktoyaktuk_1975_hourly.csv"), "--latitude", "69.45", "--infer", "P1=K1:0.33093:-7.07"},
		{"tide", "analyse", here(public + "honolulu_2010_hourly.csv"), "--trend", "--robust", "--constituents", "M2,S2,K1,O1"},
	}
	outputs["tide-table.schema.json"] = [][]string{{"tide", "table", here("testdata/tide/waters.csv"), "--clock", "UTC-3"}}
	told = append(told, struct {
		heading, prefix string
		is              func(slug string) bool
	}{"## Messages of `tide`", "tide", func(s string) bool { return slices.Contains(tideMessages, s) }})
}

// tideMessages are the slugs of tide that stand in JSON; its others are refusals.
var tideMessages = []string{
	"tide.clock", "tide.clock-utc", "tide.condition", "tide.far-from-record", "tide.from-pressure", "tide.half-cosine", "tide.inferred", "tide.inferred-after",
	"tide.left-out-lines", "tide.mean-of-record", "tide.nodal-other", "tide.not-separated", "tide.stays-inside", "tide.table-clock", "tide.table-gaps",
	"tide.table-stands", "tide.too-short-for", "tide.unit-assumed",
}
