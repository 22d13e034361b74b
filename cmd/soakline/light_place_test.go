package main

import (
	"strings"
	"testing"
)

// The calls whose JSON TestJSONFitsSchema holds against the schemas of sun and place.
func init() {
	outputs["sun.schema.json"] = [][]string{
		{"sun", "--latitude", "36.95", "--longitude", "-8.2", "--date", "2026-07-01"},
		{"sun", "--latitude", "78.2", "--longitude", "15.6", "--date", "2026-06-20", "--zone", "Europe/Oslo"},
		{"sun", "--latitude", "-90", "--longitude", "0", "--date", "2026-06-20", "--at", "2026-06-20T01:02:03Z"},
	}
	outputs["place-read.schema.json"] = [][]string{
		{"place", "read", "36.9512, -8.2034"}, {"place", "read", "29S 570924 4089755"}, {"place", "read", "36.95 -8.2 12"},
		{"place", "read", "36 57.1 8 12.2 W", "--near", "36.9,-8"}, {"place", "read", "--latitude", "8.2 W", "--longitude", "36 57 4 N"},
	}
	outputs["place-between.schema.json"] = [][]string{{"place", "between", "0", "0", "0", "179.5"}, {"place", "between", "1", "2", "1", "2"}}
	outputs["place-from.schema.json"] = [][]string{{"place", "from", "90", "0", "0", "100"}, {"place", "from", "-5", "-180", "-90", "-1"}}
	outputs["place-match.schema.json"] = [][]string{{"place", "match", "rows.gpx", "plain.csv"}}
	outputs["place-row.schema.json"] = [][]string{{"place", "row", "-36.9", "174.8", "--bearing", "350M", "--declination", "20"}, {"place", "row", "0", "180", "--bearing", "-90", "--first", "-3", "--stakes", "1"}}
}

// Flags may stand before, between and behind the words of a verb, and a word
// with a minus is a word.
func TestGuardNumbers(t *testing.T) {
	root := tree()
	for _, c := range []struct{ given, want string }{
		{"place between -1 2 -3 4 --json", "place between --json -- -1 2 -3 4"},
		{"--lang es place between --json -1 2 3 4", "place between --lang=es --json -- -1 2 3 4"},
		{"place --lang es read -W8.2 N36 --near -36,-8 --json", "place read --lang=es --near=-36,-8 --json -- -W8.2 N36"},
		{"place read --36.9 8.2", "place read -- --36.9 8.2"},
		{"place read -h", "place read -h --"},
		{"place read --nera 3", "place read --nera -- 3"},
		{"place read --json -- --near", "place read --json -- --near"},
		{"rates a.csv --level 0.9", "rates a.csv --level 0.9"},
	} {
		if got := strings.Join(guardNumbers(root, strings.Fields(c.given)), " "); got != c.want {
			t.Errorf("%s: %s, want %s", c.given, got, c.want)
		}
	}
}
