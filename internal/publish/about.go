package publish

import (
	"encoding/json"
	"time"
)

// jsonLD describes the data set as a page on the web does (schema.org Dataset),
// from the same metadata and the same coverage as the archive's description.
//
// Source: terms of schema.org as of 2026, from memory.
func (r *release) jsonLD(lv *levels) []byte {
	d := map[string]any{
		"@context": "https://schema.org/", "@type": "Dataset", "name": r.m.Title, "description": r.description(), "license": r.licence.Deed,
		"datePublished": r.m.Date, "inLanguage": r.language(), "temporalCoverage": lv.all.from.UTC().Format(time.DateOnly) + "/" + lv.all.to.UTC().Format(time.DateOnly),
	}
	var creators []any
	for _, c := range r.m.creators() {
		one := map[string]any{"@type": "Person", "name": c.Name}
		if c.Name == "" {
			one = map[string]any{"@type": "Organization", "name": c.Organisation}
		} else if c.Organisation != "" {
			one["affiliation"] = map[string]any{"@type": "Organization", "name": c.Organisation}
		}
		if c.ORCID != "" {
			one["@id"] = "https://orcid.org/" + bareORCID(c.ORCID)
		}
		creators = append(creators, one)
	}
	d["creator"] = creators
	put := func(name, v string) {
		if v != "" {
			d[name] = v
		}
	}
	put("identifier", r.m.DatasetID)
	put("version", r.m.Version)
	if r.m.Publisher != "" {
		d["publisher"] = map[string]any{"@type": "Organization", "name": r.m.Publisher}
	}
	if len(r.m.Keywords) > 0 {
		d["keywords"] = r.m.Keywords
	}
	if lv.all.box.any {
		w, s, e, n := lv.all.box.bounds()
		d["spatialCoverage"] = map[string]any{"@type": "Place", "geo": map[string]any{"@type": "GeoShape", "box": number(s, 6) + " " + number(w, 6) + " " + number(n, 6) + " " + number(e, 6)}}
	}
	return jsonBytes(d)
}

// dataCite describes the data set for the deposit of a DOI: what its registry
// asks for, without the DOI itself where none is given.
//
// Source: DataCite metadata kernel 4.7 (2026-03-03), names in its JSON from memory.
func (r *release) dataCite(lv *levels) []byte {
	var creators []any
	for _, c := range r.m.creators() {
		one := map[string]any{"name": c.Name, "nameType": "Personal"}
		if c.Name == "" {
			one = map[string]any{"name": c.Organisation, "nameType": "Organizational"}
		} else if c.Organisation != "" {
			of := map[string]any{"name": c.Organisation}
			if c.ROR != "" {
				of["affiliationIdentifier"], of["affiliationIdentifierScheme"] = "https://ror.org/"+bareROR(c.ROR), "ROR"
			}
			one["affiliation"] = []any{of}
		}
		if c.ORCID != "" {
			one["nameIdentifiers"] = []any{map[string]any{"nameIdentifier": "https://orcid.org/" + bareORCID(c.ORCID), "nameIdentifierScheme": "ORCID", "schemeUri": "https://orcid.org"}}
		}
		creators = append(creators, one)
	}
	d := map[string]any{
		"schemaVersion": "http://datacite.org/schema/kernel-4", "types": map[string]any{"resourceTypeGeneral": "Dataset", "resourceType": "Dataset"},
		"titles": []any{map[string]any{"title": r.m.Title}}, "creators": creators, "publicationYear": r.m.Date[:4], "language": r.language(),
		"dates": []any{map[string]any{"date": r.m.Date, "dateType": "Issued"},
			map[string]any{"date": lv.all.from.UTC().Format(time.DateOnly) + "/" + lv.all.to.UTC().Format(time.DateOnly), "dateType": "Collected"}},
		"rightsList":   []any{map[string]any{"rights": r.licence.Name, "rightsUri": r.licence.Deed, "rightsIdentifier": r.licence.ID, "rightsIdentifierScheme": "SPDX"}},
		"descriptions": []any{map[string]any{"description": r.description(), "descriptionType": "Abstract"}},
	}
	if r.m.Publisher != "" {
		d["publisher"] = map[string]any{"name": r.m.Publisher}
	}
	var subjects []any
	for _, k := range r.m.Keywords {
		subjects = append(subjects, map[string]any{"subject": k})
	}
	if subjects != nil {
		d["subjects"] = subjects
	}
	if lv.all.box.any {
		w, s, e, n := lv.all.box.bounds()
		degrees := func(x float64) json.Number { return json.Number(number(x, 6)) }
		d["geoLocations"] = []any{map[string]any{"geoLocationBox": map[string]any{
			"westBoundLongitude": degrees(w), "eastBoundLongitude": degrees(e), "southBoundLatitude": degrees(s), "northBoundLatitude": degrees(n)}}}
	}
	if r.m.Version != "" {
		d["version"] = r.m.Version
	}
	var funding []any
	for _, f := range r.m.Funding {
		one := map[string]any{"funderName": f.Funder}
		if f.Award != "" {
			one["awardNumber"] = f.Award
		}
		if f.ROR != "" {
			one["funderIdentifier"], one["funderIdentifierType"] = "https://ror.org/"+bareROR(f.ROR), "ROR"
		}
		funding = append(funding, one)
	}
	if funding != nil {
		d["fundingReferences"] = funding
	}
	return jsonBytes(d)
}
