package task

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/demo"
	"soakline/internal/publish"
	"soakline/internal/sheet"
)

// The invented season, published, comes back as the same records: from the
// archive and from the tables of the package, read as any sheet is read.
func TestPublishedSeasonComesBack(t *testing.T) {
	var public []assay.Deployment
	m := publish.Metadata{Title: "An invented season", Licence: "CC-BY-4.0", Date: "2026-10-31", Contact: publish.Party{Name: "Ana Ejemplo", Email: "a@example.org"}}
	named := map[string]bool{}
	for _, d := range demo.Make(demo.DefaultSeed).Clean() {
		if d.IsPractice() {
			continue
		}
		for i := range d.Checks {
			if d.Checks[i].LostDerived { // what nobody wrote is worked out again
				d.Checks[i].Lost, d.Checks[i].LostDerived = assay.None[int](), false
			}
		}
		public = append(public, d)
		for _, n := range append([]string{d.Observers}, readers(d)...) {
			if n != "" && !named[n] {
				named[n] = true
				m.People = append(m.People, publish.Person{Name: n, Named: true, AgreedOn: "2026-01-01", Wording: "invented"})
			}
		}
	}
	s := &Season{Deployments: public, Settings: Settings{Protocol: sheet.DefaultProtocol, Invented: true}}
	s.Protocols, _ = sheet.Protocols()
	dir := filepath.Join(t.TempDir(), "open")
	res, err := Publish(context.Background(), s, dir, PublishOptions{Metadata: m, Today: time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	if res.Deployments != len(public) || res.Occurrences == 0 {
		t.Fatalf("%d rows, %d sightings", res.Deployments, res.Occurrences)
	}
	for name, sources := range map[string][]string{
		"archive": {"archive.zip"}, "package": {"datapackage/deployments.csv", "datapackage/stakes.csv", "datapackage/sightings.csv"},
	} {
		var paths []string
		for _, p := range sources {
			paths = append(paths, filepath.Join(dir, p))
		}
		back, err := Load(context.Background(), paths, LoadOptions{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if back.Hash() != s.Hash() {
			t.Errorf("%s: %d of %d rows come back, and not the same", name, len(back.Deployments), len(public))
			for i := range back.Deployments {
				a, b := sheet.Values(&public[i]), sheet.Values(&back.Deployments[i])
				for k := range a {
					if a[k] != b[k] {
						t.Errorf("%s: row %s: %s is %q, was %q", name, a["deployment_id"], k, b[k], a[k])
						return
					}
				}
				for k := range b {
					if _, ok := a[k]; !ok {
						t.Errorf("%s: row %s: %s is %q, was nothing", name, a["deployment_id"], k, b[k])
						return
					}
				}
			}
		}
	}
}

func readers(d assay.Deployment) []string {
	var out []string
	for _, c := range d.Checks {
		out = append(out, c.Reader)
	}
	return out
}

func TestTaxaFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "taxa.csv")
	write := func(s string) {
		if err := os.WriteFile(path, []byte(s), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("taxon,scientific_name,scientific_name_id,rank,kingdom\nbream,Diplodus sargus,urn:lsid:marinespecies.org:taxname:127053,species,Animalia\n")
	list, err := readTaxa(path)
	if err != nil || list["bream"].ScientificName != "Diplodus sargus" || list["bream"].Kingdom != "Animalia" {
		t.Errorf("%v, %v", list, err)
	}
	for _, bad := range []string{"", "name\nx\n", "taxon,scientific_name,scientific_name_id,rank,kingdom\nbream\n", "taxon,scientific_name,scientific_name_id,rank,kingdom\n,a,,,\n"} {
		write(bad)
		if _, err := readTaxa(path); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
}
