package publish

import (
	"bytes"
	"encoding/json"
)

// descriptor is datapackage.json: what each table and column is.
//
// Source: Data Package 2.0 (2024-06-26).
func (r *release) descriptor(id string, tables []resource, files map[string]File) []byte {
	p := map[string]any{
		"$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
		"name":    nameOf(r.m.Title), "id": id, "title": r.m.Title, "created": r.m.Date + "T00:00:00Z",
		"licenses":     []any{map[string]any{"name": r.licence.ID, "path": r.licence.Deed, "title": r.licence.Name}},
		"contributors": r.contributors(), "resources": r.described(tables, files),
		"description": r.description(),
	}
	if r.m.Version != "" {
		p["version"] = r.m.Version
	}
	if len(r.m.Keywords) > 0 {
		p["keywords"] = r.m.Keywords
	}
	if len(r.m.Source) > 0 {
		var list []any
		for _, s := range r.m.Source {
			one := map[string]any{"title": s.Title}
			if s.Path != "" {
				one["path"] = s.Path
			}
			list = append(list, one)
		}
		p["sources"] = list
	}
	return jsonBytes(p)
}

// jsonBytes is indented JSON with sorted keys and a line end.
func jsonBytes(v any) []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		panic("publish: cannot write JSON: " + err.Error())
	}
	return b.Bytes()
}

func (r *release) description() string {
	s := r.m.Abstract
	if r.in.Invented {
		if s != "" {
			s += "\n\n"
		}
		s += "Invented data: no such programme, places or people."
	}
	if s == "" {
		s = r.m.Title
	}
	return s
}

func (r *release) contributors() []any {
	var out []any
	add := func(p Party, roles ...string) {
		c := map[string]any{"title": p.Name, "roles": roles}
		if p.Name == "" {
			c["title"] = p.Organisation
		}
		if p.Email != "" {
			c["email"] = p.Email
		}
		if p.ORCID != "" {
			c["path"] = "https://orcid.org/" + bareORCID(p.ORCID)
		}
		if p.Organisation != "" {
			c["organization"] = p.Organisation
		}
		out = append(out, c)
	}
	add(r.m.Contact, "contact")
	for _, c := range r.m.creators() {
		add(c, "creator")
	}
	for _, p := range r.people.credited(r) {
		add(Party{Name: p.credit(), ORCID: p.ORCID}, "observer")
	}
	if r.m.Publisher != "" {
		add(Party{Organisation: r.m.Publisher}, "publisher")
	}
	return out
}

func (r *release) described(tables []resource, files map[string]File) []any {
	var out []any
	for _, t := range tables {
		f := files[t.name]
		schema := map[string]any{"fields": fieldsOf(t), "missingValues": []string{""}}
		if len(t.key) > 0 {
			schema["primaryKey"] = t.key
		}
		if t.to != "" {
			schema["foreignKeys"] = []any{map[string]any{"fields": t.refers, "reference": map[string]any{"resource": t.to, "fields": t.toFields}}}
		}
		out = append(out, map[string]any{
			"name": t.name, "type": "table", "path": t.name + ".csv", "description": t.about, "format": "csv", "mediatype": "text/csv", "encoding": "utf-8",
			"bytes": f.Bytes, "hash": "sha256:" + f.SHA256, "schema": schema,
			"dialect": map[string]any{"delimiter": ",", "lineTerminator": "\r\n", "quoteChar": "\"", "doubleQuote": true, "header": true},
		})
	}
	return out
}

func fieldsOf(t resource) []any {
	var out []any
	for _, f := range t.fields {
		one := map[string]any{"name": f.name, "type": f.kind, "description": f.about}
		if f.unit != "" {
			one["unit"] = f.unit
		}
		if f.iri != "" {
			one["dcterms:isVersionOf"] = f.iri
		}
		limits := map[string]any{}
		if f.required {
			limits["required"] = true
		}
		if len(f.words) > 0 {
			limits["enum"] = f.words
		}
		if f.min != "" {
			limits["minimum"] = json.Number(f.min)
		}
		if len(limits) > 0 {
			one["constraints"] = limits
		}
		out = append(out, one)
	}
	return out
}
