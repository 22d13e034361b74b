package publish

import (
	"encoding/csv"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"soakline/internal/assay"
	"soakline/internal/quality"
)

// TestEveryObjection goes through the 32 things for which reviewers of such
// archives send a data set back (testdata/objections, source there). Each is
// raised by a planted case of TestReview, or the writer cannot produce it, which
// the test named beside it shows.
func TestEveryObjection(t *testing.T) {
	f, err := os.Open("testdata/objections/objections.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil || len(all) != 33 {
		t.Fatalf("%d lines, %v", len(all), err)
	}
	used := map[string]bool{}
	for n, l := range all[1:] {
		if l[0] != strconv.Itoa(n+1) || l[2] == "" || l[3] == "" && l[4] == "" {
			t.Errorf("line %v", l)
		}
		for _, slug := range strings.Fields(l[3]) {
			if plants[slug] == nil && inputPlants[slug] == nil {
				t.Errorf("objection %s: no planted case raises %s", l[0], slug)
			}
			used[slug] = true
		}
		for _, name := range strings.Fields(l[4]) {
			do := guarantees[name]
			if do == nil {
				t.Errorf("objection %s: nothing shows %s", l[0], name)
				continue
			}
			t.Run(l[0]+"/"+name, do)
		}
	}
	for slug := range plants {
		if !used[slug] {
			t.Errorf("%s is raised and stands beside no objection", slug)
		}
	}
}

// guarantees show that the writer cannot produce something, or that the rules
// stop it before.
var guarantees = map[string]func(*testing.T){
	"XMLIsValid": TestXMLIsValid, "TermsAreRegistered": TestTermsAreRegistered, "ArchiveHoldsTogether": TestArchiveHoldsTogether, "Identifiers": TestIdentifiers,
	"Versions": TestVersions, "SensitivePlace": TestSensitivePlace, "WhoMayBeNamed": TestWhoMayBeNamed, "VocabularyIsLive": TestVocabularyIsLive,
	"WhatIsNotKnownShows": TestWhatIsNotKnownShows, "CoverageHoldsTheData": TestCoverageHoldsTheData, "LicenceAndEmbargo": TestLicenceAndEmbargo,
	"licence-listed": func(t *testing.T) {
		for _, licence := range []string{"free for everybody", "GPL-3.0", "CC-BY-SA-4.0", "CC-BY-ND-4.0"} {
			m := metadata()
			m.Licence = licence
			var refused *Refused
			if _, err := Write(t.Context(), filepath.Join(t.TempDir(), "x"), input(t, small(t), m)); !errors.As(err, &refused) {
				t.Errorf("%s: %v", licence, err)
			}
		}
	},
	"licence-one": func(t *testing.T) {
		eachLine(t, func(file string, l map[string]string) {
			if v, there := l["license"]; there && v != "http://creativecommons.org/licenses/by/4.0/legalcode" {
				t.Errorf("%s: %q", file, v)
			}
		})
	},
	"files-fit": func(t *testing.T) {
		dir, _ := published(t, input(t, small(t), metadata()))
		e := entries(t, dir)
		for _, name := range regexp.MustCompile(`<location>([^<]+)<`).FindAllSubmatch(e["meta.xml"], -1) {
			b, there := e[string(name[1])]
			if !there {
				t.Fatalf("no %s", name[1])
			}
			lines(t, b) // encoding/csv holds every line to the number of the first
			if strings.ToValidUTF8(string(b), "?") != string(b) || strings.HasPrefix(string(b), "\ufeff") {
				t.Errorf("%s is not plain UTF-8", name[1])
			}
		}
	},
	"judged-range": judged("latitude", func(d *assay.Deployment) { d.Latitude = assay.Some(95.0) }, assay.Block),
	"judged-sign":  judged("longitude", func(d *assay.Deployment) { d.Longitude = assay.Some(-d.Longitude.Or(0)) }, assay.Ask),
	"judged-land": judged("latitude", func(d *assay.Deployment) { // the middle of the Iberian peninsula
		d.Latitude, d.Longitude = assay.Some(39.5), assay.Some(-4.1)
	}, assay.Ask),
	"judged-depth":  judged("depth_min_m", func(d *assay.Deployment) { d.DepthMinM = assay.Some(9.0) }, assay.Block),
	"judged-counts": judged("consumed_by_check2", func(d *assay.Deployment) { d.Checks[1].Consumed = assay.Some(26) }, assay.Block),
	"dates-iso": func(t *testing.T) {
		iso := regexp.MustCompile(`^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])T\d\d:\d\d(:\d\d)?(Z|[+-]\d\d:\d\d)$`)
		eachLine(t, func(file string, l map[string]string) {
			if l["fieldNumber"] != "" && strings.HasSuffix(strings.SplitN(l["eventDate"], "/", 2)[0], "Z") {
				t.Errorf("%s: local time of a row marked Z: %s", file, l["eventDate"])
			}
			for _, v := range append(strings.Split(l["eventDate"], "/"), l["measurementDeterminedDate"]) {
				if v != "" && !iso.MatchString(v) {
					t.Errorf("%s: %q", file, v)
				}
			}
		})
	},
	"dates-agree": func(t *testing.T) {
		eachLine(t, func(file string, l map[string]string) {
			from, to, two := strings.Cut(l["eventDate"], "/")
			if l["year"] != "" && l["year"] != from[:4] || l["month"] != "" && "-"+pad(l["month"])+"-" != from[4:8] || l["day"] != "" && pad(l["day"])+"T" != from[8:11] {
				t.Errorf("%s: %s is not %s %s %s", file, l["eventDate"], l["year"], l["month"], l["day"])
			}
			if two && to < from { // one clock, so texts compare as times do
				t.Errorf("%s: %s", file, l["eventDate"])
			}
		})
	},
	"effort-told": func(t *testing.T) {
		eachLine(t, func(file string, l map[string]string) {
			if _, event := l["eventType"]; event && (l["samplingProtocol"] == "" || l["samplingEffort"] == "") {
				t.Errorf("%s: %v", file, l["eventID"])
			}
			if (l["sampleSizeValue"] == "") != (l["sampleSizeUnit"] == "") {
				t.Errorf("%s: %q without %q", file, l["sampleSizeValue"], l["sampleSizeUnit"])
			}
		})
	},
	"measurements-typed": func(t *testing.T) {
		numbers := map[string]map[bool]bool{}
		eachLine(t, func(file string, l map[string]string) {
			v, there := l["measurementValue"]
			if !there {
				return
			}
			_, err := strconv.ParseFloat(v, 64)
			k := l["measurementType"]
			if k == "" || v == "" || err == nil && l["measurementUnit"] == "" {
				t.Errorf("%s: %v", file, l)
			}
			if numbers[k] == nil {
				numbers[k] = map[bool]bool{}
			}
			numbers[k][err == nil] = true
		})
		for k, kinds := range numbers {
			if len(kinds) > 1 {
				t.Errorf("%s is a number in one line and a text in another", k)
			}
		}
	},
	"no-null": func(t *testing.T) {
		eachCell(t, func(where, v string) {
			if slices.Contains([]string{"NA", "N/A", "NULL", "null", "NaN", "nil", "-999"}, v) {
				t.Errorf("%s is %q", where, v)
			}
		})
	},
	"status-fits": func(t *testing.T) {
		eachLine(t, func(file string, l map[string]string) {
			if file != "occurrence.csv" {
				return
			}
			if !slices.Contains([]string{"HumanObservation", "MachineObservation"}, l["basisOfRecord"]) {
				t.Errorf("basisOfRecord %q", l["basisOfRecord"])
			}
			if n := l["individualCount"]; l["occurrenceStatus"] != map[bool]string{true: "absent", false: "present"}[n == "0"] {
				t.Errorf("%s of them are %q", n, l["occurrenceStatus"])
			}
		})
	},
	"cells-plain": func(t *testing.T) {
		eachCell(t, func(where, v string) {
			if strings.ContainsAny(v, "\r\n\t") || strings.TrimSpace(v) != v || strings.Contains(v, "\uFFFD") {
				t.Errorf("%s is %q", where, v)
			}
		})
	},
	"method-whole": func(t *testing.T) {
		dir, _ := published(t, input(t, small(t), metadata()))
		said := string(entries(t, dir)["eml.xml"])
		for _, want := range []string{"25 baits a row", "2 m apart", "bait form disc, 13 mm", "checks after 1 h", "24 h", "more than 50 %", "A lost bait was never found again", "dried squid"} {
			if !strings.Contains(said, want) {
				t.Errorf("the methods do not say %q", want)
			}
		}
	},
}

func pad(s string) string {
	if len(s) == 1 {
		return "0" + s
	}
	return s
}

// eachLine goes through the lines of the tables of an archive.
func eachLine(t *testing.T, do func(file string, l map[string]string)) {
	t.Helper()
	dir, _ := published(t, input(t, small(t), metadata()))
	for name, b := range entries(t, dir) {
		if strings.HasSuffix(name, ".csv") {
			for _, l := range lines(t, b) {
				do(name, l)
			}
		}
	}
}

// eachCell goes through their cells; what a row says beside the standard's
// columns stands to the letter in dynamicProperties, as JSON.
func eachCell(t *testing.T, do func(where, v string)) {
	t.Helper()
	eachLine(t, func(file string, l map[string]string) {
		for column, v := range l {
			do(file+" "+column, v)
		}
	})
}

// judged shows that the rules speak of a slip of this kind: a block keeps the
// row out, an open question is flagged.
func judged(field string, slip func(*assay.Deployment), want assay.Severity) func(*testing.T) {
	return func(t *testing.T) {
		ds := append(small(t)[:2], small(t)[0], small(t)[1])
		for i := range ds {
			ds[i].ID = "D-0" + strconv.Itoa(i+1)
			ds[i].SetOut.At = ds[i].SetOut.At.AddDate(0, 0, i)
			ds[i].Checks = slices.Clone(ds[i].Checks)
			for k := range ds[i].Checks {
				if c := &ds[i].Checks[k]; c.At.Known() {
					c.At.At = c.At.At.AddDate(0, 0, i)
				}
			}
			ds[i].RetrievedAt = assay.Moment{}
		}
		slip(&ds[2])
		in := input(t, ds, metadata())
		if !slices.ContainsFunc(in.Findings, func(f assay.Finding) bool {
			return f.Record == quality.Record(&ds[2]) && f.Severity == want && f.Field == field
		}) {
			t.Errorf("no rule speaks of %s: %v", field, in.Findings)
		}
		p, err := Review(in)
		if err != nil {
			t.Fatal(err)
		}
		slug := map[assay.Severity]string{assay.Block: "blocked", assay.Ask: "question-open"}[want]
		if !slices.ContainsFunc(p.Flags, func(f Flag) bool { return f.Slug == slug && slices.Contains(f.Rows, "D-03") }) {
			t.Errorf("a reviewer says %v", p.Flags)
		}
	}
}
