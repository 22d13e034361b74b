package task

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strconv"
	"strings"

	"soakline/internal/logbook"
	"soakline/internal/publish"
	"soakline/internal/words"
)

// Kinds of records that say what is said of a publication: the data set as a
// whole, who made it, who paid, what it was made from, what each contributor
// agreed to, which places are told only roughly, which animals are meant.
const (
	kindPublication = "publication"
	kindCreator     = "creator"
	kindFunding     = "funding"
	kindOrigin      = "origin"
	kindConsent     = "consent"
	kindSensitive   = "sensitive"
	kindTaxon       = "taxon"
)

// Publication is what a logbook keeps to be said of a publication.
func Publication(tx *logbook.Tx) (m publish.Metadata, err error) {
	r, found, err := findCode(tx, kindPublication, "publication")
	if err != nil {
		return m, err
	}
	if found {
		for name, p := range plainFields(&m) {
			*p = r.Fields[name]
		}
		m.Keywords = lines(r.Fields["keywords"])
	}
	var numbered []numberedParty
	for kind, take := range map[string]func(f map[string]string){
		kindCreator: func(f map[string]string) {
			n, _ := strconv.Atoi(f["number"])
			numbered = append(numbered, numberedParty{n, publish.Party{Name: f["name"], Email: f["email"], ORCID: f["orcid"], Organisation: f["organisation"], ROR: f["ror"]}})
		},
		kindFunding: func(f map[string]string) {
			m.Funding = append(m.Funding, publish.Fund{Funder: f["funder"], ROR: f["ror"], Award: f["award"], Title: f["title"]})
		},
		kindOrigin: func(f map[string]string) {
			m.Source = append(m.Source, publish.Link{Title: f["title"], Path: f["path"]})
		},
		kindConsent: func(f map[string]string) {
			m.People = append(m.People, publish.Person{Name: f["code"], Also: lines(f["also"]), Named: f["named"] == "yes", CreditAs: f["credit_as"], ORCID: f["orcid"],
				Minor: f["minor"] == "yes", AgreedOn: f["agreed_on"], Wording: f["wording"], Licence: f["licence"], EmbargoTo: f["embargo_to"]})
		},
		kindSensitive: func(f map[string]string) {
			n, _ := strconv.Atoi(f["decimals"])
			m.Sensitive = append(m.Sensitive, publish.Sensitive{Site: f["code"], PublishAs: f["publish_as"], Decimals: n, Why: f["why"]})
		},
		kindTaxon: func(f map[string]string) {
			if m.TaxonList == nil {
				m.TaxonList = map[string]publish.Taxon{}
			}
			m.TaxonList[f["code"]] = publish.Taxon{ScientificName: f["scientific_name"], ScientificNameID: f["scientific_name_id"], Rank: f["rank"], Kingdom: f["kingdom"]}
		},
	} {
		err := live(tx, kind, func(r logbook.Record) error { take(r.Fields); return nil })
		if err != nil {
			return m, err
		}
	}
	slices.SortStableFunc(numbered, func(a, b numberedParty) int { return cmp.Compare(a.n, b.n) })
	for _, c := range numbered {
		m.Creator = append(m.Creator, c.Party)
	}
	slices.SortFunc(m.People, func(a, b publish.Person) int { return strings.Compare(a.Name, b.Name) })
	slices.SortFunc(m.Sensitive, func(a, b publish.Sensitive) int { return strings.Compare(a.Site, b.Site) })
	return m, nil
}

type numberedParty struct {
	n int
	publish.Party
}

// plainFields are the single texts of the metadata by the names they are kept under.
func plainFields(m *publish.Metadata) map[string]*string {
	return map[string]*string{
		"title": &m.Title, "licence": &m.Licence, "abstract": &m.Abstract, "publisher": &m.Publisher, "dataset_id": &m.DatasetID,
		"language": &m.Language, "country_code": &m.Country, "contact_name": &m.Contact.Name, "contact_email": &m.Contact.Email,
		"contact_orcid": &m.Contact.ORCID, "contact_organisation": &m.Contact.Organisation, "contact_ror": &m.Contact.ROR,
	}
}

func lines(s string) []string {
	if s == "" {
		return nil
	}
	return strings.Split(s, "\n")
}

// setPublication keeps exactly this, so that what is no longer among it is
// withdrawn.
func setPublication(tx *logbook.Tx, m publish.Metadata, by By) error {
	fields := map[string]string{"keywords": strings.Join(m.Keywords, "\n")}
	for name, p := range plainFields(&m) {
		fields[name] = strings.TrimSpace(*p)
	}
	if err := putCode(tx, kindPublication, "publication", fields, by.stamp()); err != nil {
		return err
	}
	want := map[string]map[string]map[string]string{kindCreator: {}, kindFunding: {}, kindOrigin: {}, kindConsent: {}, kindSensitive: {}, kindTaxon: {}}
	for i, c := range m.Creator {
		want[kindCreator][cmp.Or(c.Name, c.Organisation)] = map[string]string{"number": strconv.Itoa(i + 1), "name": c.Name, "email": c.Email, "orcid": c.ORCID, "organisation": c.Organisation, "ror": c.ROR}
	}
	for _, f := range m.Funding {
		want[kindFunding][strings.TrimSpace(f.Funder+" "+f.Award)] = map[string]string{"funder": f.Funder, "ror": f.ROR, "award": f.Award, "title": f.Title}
	}
	for _, s := range m.Source {
		want[kindOrigin][cmp.Or(s.Title, s.Path)] = map[string]string{"title": s.Title, "path": s.Path}
	}
	for _, p := range m.People {
		want[kindConsent][p.Name] = map[string]string{"also": strings.Join(p.Also, "\n"), "named": yes(p.Named), "credit_as": p.CreditAs, "orcid": p.ORCID, "minor": yes(p.Minor),
			"agreed_on": p.AgreedOn, "wording": p.Wording, "licence": p.Licence, "embargo_to": p.EmbargoTo}
	}
	for _, s := range m.Sensitive {
		want[kindSensitive][s.Site] = map[string]string{"publish_as": s.PublishAs, "decimals": strconv.Itoa(s.Decimals), "why": s.Why}
	}
	for name, t := range m.TaxonList {
		want[kindTaxon][name] = map[string]string{"scientific_name": t.ScientificName, "scientific_name_id": t.ScientificNameID, "rank": t.Rank, "kingdom": t.Kingdom}
	}
	for _, kind := range slices.Sorted(maps.Keys(want)) {
		if err := putList(tx, kind, want[kind], by); err != nil {
			return err
		}
	}
	return nil
}

// putList makes the live records of a kind exactly these, by code.
func putList(tx *logbook.Tx, kind string, want map[string]map[string]string, by By) error {
	stamp := by.stamp()
	if stamp.Why == "" {
		stamp.Why = words.English.Say("task.off-the-list", nil)
	}
	var gone []string
	err := live(tx, kind, func(r logbook.Record) error {
		if _, there := want[r.Fields["code"]]; !there {
			gone = append(gone, r.Key)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, key := range gone {
		if _, err := tx.Withdraw(key, stamp); err != nil {
			return err
		}
	}
	for _, code := range slices.Sorted(maps.Keys(want)) {
		if err := putCode(tx, kind, code, want[code], by.stamp()); err != nil {
			return err
		}
	}
	return nil
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

// over puts given metadata over kept ones. Lists of people and sensitive places
// are put together, name by name: what is kept to protect somebody or some
// place does not go because a file does not tell of it.
func over(kept, given publish.Metadata) publish.Metadata {
	m := kept.Over(given)
	m.People, m.Sensitive = slices.Clone(kept.People), slices.Clone(kept.Sensitive)
	for _, p := range given.People {
		i := slices.IndexFunc(m.People, func(old publish.Person) bool { return strings.EqualFold(old.Name, p.Name) })
		if i < 0 {
			m.People = append(m.People, p)
			continue
		}
		p.Minor = p.Minor || m.People[i].Minor
		m.People[i] = p
	}
	for _, s := range given.Sensitive {
		i := slices.IndexFunc(m.Sensitive, func(old publish.Sensitive) bool { return old.Site == s.Site })
		if i < 0 {
			m.Sensitive = append(m.Sensitive, s)
			continue
		}
		s.Decimals = min(s.Decimals, m.Sensitive[i].Decimals)
		m.Sensitive[i] = s
	}
	return m
}

// KeptMetadata is what a logbook keeps to be said of a publication, as the file
// that --metadata reads; the list of taxa is not part of it.
func KeptMetadata(ctx context.Context, book *logbook.Book) (text []byte, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		m, err := Publication(tx)
		if err != nil {
			return err
		}
		text, err = m.TOML()
		return err
	})
	return text, err
}

// KeepPublication keeps the metadata of a file and flags beside those that are
// kept already; the given ones win.
func KeepPublication(ctx context.Context, book *logbook.Book, o PublishOptions, by By) error {
	given, err := Given(o)
	if err != nil {
		return err
	}
	return ChangePublication(ctx, book, func(m *publish.Metadata) error {
		*m = over(*m, given)
		return nil
	}, by)
}

// ChangePublication changes what is kept to be said of a publication.
func ChangePublication(ctx context.Context, book *logbook.Book, change func(*publish.Metadata) error, by By) error {
	return book.Change(ctx, func(tx *logbook.Tx) error {
		m, err := Publication(tx)
		if err != nil {
			return err
		}
		if err := change(&m); err != nil {
			return err
		}
		if err := m.CheckGiven(); err != nil {
			return err
		}
		return setPublication(tx, m, by)
	})
}
