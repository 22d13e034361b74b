package publish

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
)

// What is said of the data set is said the same in every description of it;
// that a sensitive place stands in none of them, TestSensitivePlace looks for.
func TestDescriptionsAgree(t *testing.T) {
	dir, _ := published(t, input(t, small(t), metadata()))
	read := func(name string, v any) {
		t.Helper()
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(b, v); err != nil {
			t.Fatal(err)
		}
	}
	var ld struct {
		Type     string `json:"@type"`
		Name     string
		License  string
		Temporal string                             `json:"temporalCoverage"`
		Spatial  struct{ Geo struct{ Box string } } `json:"spatialCoverage"`
		Creator  []struct {
			ID string `json:"@id"`
		}
	}
	read("dataset.jsonld", &ld)
	var dc struct {
		Titles          []struct{ Title string }
		PublicationYear string
		RightsList      []struct{ RightsIdentifier string }
		Dates           []struct{ Date, DateType string }
		Types           struct{ ResourceTypeGeneral string }
	}
	read("datacite.json", &dc)
	m := metadata()
	if ld.Type != "Dataset" || ld.Name != m.Title || ld.License != "https://creativecommons.org/licenses/by/4.0/" || len(ld.Creator) != 1 || ld.Creator[0].ID != "https://orcid.org/0000-0002-1825-0097" ||
		ld.Temporal != "2025-07-07/2025-07-08" || ld.Spatial.Geo.Box != "36.71031 -4.31992 36.91031 -4.11992" {
		t.Errorf("dataset.jsonld: %+v", ld)
	}
	if dc.Titles[0].Title != m.Title || dc.PublicationYear != "2026" || dc.RightsList[0].RightsIdentifier != m.Licence || dc.Dates[1].Date != ld.Temporal || dc.Types.ResourceTypeGeneral != "Dataset" {
		t.Errorf("datacite.json: %+v", dc)
	}
}
