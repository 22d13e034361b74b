package web

import (
	"bytes"
	"net/http"
	"slices"
	"strings"

	"soakline/internal/publish"
	"soakline/internal/task"
)

// changePublication keeps a change to what is said of a publication and comes
// back to its part of the page.
func (d *Desk) changePublication(w http.ResponseWriter, r *http.Request, b *opened, part string, change func(m *publish.Metadata, f func(string) string) error) error {
	l := d.language()
	field := func(name string) string { return strings.TrimSpace(r.FormValue(name)) }
	err := task.ChangePublication(r.Context(), b.book, func(m *publish.Metadata) error { return change(m, field) }, d.by(l.Say("web.why.publication", nil)))
	if err != nil {
		return d.showPublish(w, r, b, http.StatusUnprocessableEntity, err)
	}
	b.forget()
	d.setFlash(flash{Text: l.Say("web.done.publication", nil)})
	http.Redirect(w, r, "/publish#"+part, http.StatusSeeOther)
	return nil
}

// setAbout keeps title, licence, contact and the like.
func (d *Desk) setAbout(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.changePublication(w, r, b, "about", func(m *publish.Metadata, f func(string) string) error {
		m.Title, m.Licence, m.Abstract, m.Publisher = f("title"), f("licence"), strings.ReplaceAll(f("abstract"), "\r\n", "\n"), f("publisher")
		m.DatasetID, m.Language, m.Country = f("dataset_id"), f("language"), strings.ToUpper(f("country_code"))
		m.Contact = publish.Party{Name: f("contact_name"), Email: f("contact_email"), ORCID: f("contact_orcid"), Organisation: f("contact_organisation"), ROR: f("contact_ror")}
		m.Keywords = names(f("keywords"))
		return nil
	})
}

// setCreator adds, changes or, emptied, takes away an author.
func (d *Desk) setCreator(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.changePublication(w, r, b, "creators", func(m *publish.Metadata, f func(string) string) error {
		c := publish.Party{Name: f("name"), Organisation: f("organisation"), ORCID: f("orcid"), ROR: f("ror")}
		m.Creator = putAt(m.Creator, atoi(f("n")), c, c == publish.Party{})
		return nil
	})
}

// setFunding adds, changes or takes away who paid.
func (d *Desk) setFunding(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.changePublication(w, r, b, "funding", func(m *publish.Metadata, f func(string) string) error {
		x := publish.Fund{Funder: f("funder"), Award: f("award"), Title: f("award_title"), ROR: f("ror")}
		m.Funding = putAt(m.Funding, atoi(f("n")), x, x.Funder == "")
		return nil
	})
}

// setSource adds, changes or takes away what the rows come from, beside the sheets.
func (d *Desk) setSource(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.changePublication(w, r, b, "sources", func(m *publish.Metadata, f func(string) string) error {
		x := publish.Link{Title: f("title"), Path: f("path")}
		m.Source = putAt(m.Source, atoi(f("n")), x, x == publish.Link{})
		return nil
	})
}

// setTaxon says which taxon a name in the rows means; with all fields empty the
// name is taken off the list.
func (d *Desk) setTaxon(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.changePublication(w, r, b, "taxa", func(m *publish.Metadata, f func(string) string) error {
		t := publish.Taxon{ScientificName: f("scientific_name"), ScientificNameID: f("scientific_name_id"), Rank: f("rank"), Kingdom: f("kingdom")}
		if t == (publish.Taxon{}) {
			delete(m.TaxonList, f("taxon"))
			return nil
		}
		if t.ScientificName == "" {
			t.ScientificName = f("taxon")
		}
		if m.TaxonList == nil {
			m.TaxonList = map[string]publish.Taxon{}
		}
		m.TaxonList[f("taxon")] = t
		return nil
	})
}

// setTaxa takes a list of taxa from a file, in the place of the one that is kept.
func (d *Desk) setTaxa(w http.ResponseWriter, r *http.Request, b *opened) error {
	file, err := uploaded(r, "file")
	if err != nil {
		return err
	}
	return d.changePublication(w, r, b, "taxa", func(m *publish.Metadata, _ func(string) string) error {
		if file == nil {
			return nil
		}
		list, err := task.ReadTaxa(file.Name, bytes.NewReader(file.Data))
		if err == nil {
			m.TaxonList = list
		}
		return err
	})
}

// putAt changes entry n of a list, counted from 1, adds where there is none,
// and takes it away where it is empty.
func putAt[T any](list []T, n int, x T, empty bool) []T {
	switch {
	case n >= 1 && n <= len(list) && empty:
		return slices.Delete(list, n-1, n)
	case n >= 1 && n <= len(list):
		list[n-1] = x
	case !empty:
		list = append(list, x)
	}
	return list
}

// setConsent keeps what a contributor agreed to.
func (d *Desk) setConsent(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.changePublication(w, r, b, "people", func(m *publish.Metadata, f func(string) string) error {
		p := publish.Person{Name: f("name"), Also: names(f("also")), Named: f("named") == "yes", Minor: f("minor") == "yes", CreditAs: f("credit_as"),
			ORCID: f("orcid"), AgreedOn: f("agreed_on"), Wording: f("wording"), Licence: f("licence"), EmbargoTo: f("embargo_to")}
		i := slices.IndexFunc(m.People, func(old publish.Person) bool { return strings.EqualFold(old.Name, p.Name) })
		m.People = putAt(m.People, i+1, p, false)
		return nil
	})
}

// setPlace keeps that a site is told only roughly, or no longer.
func (d *Desk) setPlace(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.changePublication(w, r, b, "places", func(m *publish.Metadata, f func(string) string) error {
		s := publish.Sensitive{Site: f("site"), PublishAs: f("publish_as"), Decimals: atoi(f("decimals")), Why: f("why")}
		i := slices.IndexFunc(m.Sensitive, func(old publish.Sensitive) bool { return old.Site == s.Site })
		m.Sensitive = putAt(m.Sensitive, i+1, s, f("hidden") != "yes")
		return nil
	})
}
