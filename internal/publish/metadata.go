package publish

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/BurntSushi/toml"

	"soakline/internal/assay"
	"soakline/internal/pattern"
)

// Metadata is what is said of a data set as a whole. Nothing in it is ever made
// up: what is missing and needed is asked for.
type Metadata struct {
	Title     string   `toml:"title,omitempty"`
	Licence   string   `toml:"licence,omitempty"`
	Abstract  string   `toml:"abstract,omitempty"`
	Publisher string   `toml:"publisher,omitempty"`
	Date      string   `toml:"date,omitempty"`       // of publication, 2026-01-31
	DatasetID string   `toml:"dataset_id,omitempty"` // an address that stays; given once
	Version   string   `toml:"version,omitempty"`    // of the data set, 1.2.0
	Language  string   `toml:"language,omitempty"`   // of title and abstract, BCP 47
	Keywords  []string `toml:"keywords,omitempty"`
	Country   string   `toml:"country_code,omitempty"` // ISO 3166-1 alpha-2
	Taxa      string   `toml:"taxa,omitempty"`         // file: taxon,scientific_name,scientific_name_id,rank,kingdom

	Contact Party   `toml:"contact,omitempty"`
	Creator []Party `toml:"creator,omitempty"`
	Funding []Fund  `toml:"funding,omitempty"`
	Source  []Link  `toml:"source,omitempty"`
	// People are the observers who said whether they may be named.
	People []Person `toml:"person,omitempty"`
	// Sensitive places are published generalised.
	Sensitive []Sensitive `toml:"sensitive,omitempty"`
	// TaxonList is what the file Taxa holds.
	TaxonList map[string]Taxon `toml:"-"`
}

// Party is a person or organisation of the metadata.
type Party struct {
	Name         string `toml:"name,omitempty"`
	Email        string `toml:"email,omitempty"`
	ORCID        string `toml:"orcid,omitempty"`
	Organisation string `toml:"organisation,omitempty"`
	ROR          string `toml:"ror,omitempty"`
	Role         string `toml:"role,omitempty"`
}

// Fund is who paid.
type Fund struct {
	Funder string `toml:"funder,omitempty"`
	ROR    string `toml:"ror,omitempty"`
	Award  string `toml:"award,omitempty"`
	Title  string `toml:"title,omitempty"`
}

// Link is where something else stands that this was made from.
type Link struct {
	Title string `toml:"title,omitempty"`
	Path  string `toml:"path,omitempty"`
}

// Person is what an observer agreed to, when and in which words.
type Person struct {
	Name      string   `toml:"name,omitempty"`
	Also      []string `toml:"also,omitempty"` // other spellings on the sheets
	Named     bool     `toml:"named,omitempty"`
	CreditAs  string   `toml:"credit_as,omitempty"`
	ORCID     string   `toml:"orcid,omitempty"`
	Minor     bool     `toml:"minor,omitempty"`
	AgreedOn  string   `toml:"agreed_on,omitempty"`
	Wording   string   `toml:"wording,omitempty"`
	Licence   string   `toml:"licence,omitempty"`
	EmbargoTo string   `toml:"embargo_to,omitempty"` // first day on which it may be published
}

// Sensitive is a site whose place is not told exactly.
type Sensitive struct {
	Site      string `toml:"site,omitempty"`
	PublishAs string `toml:"publish_as,omitempty"` // the name that stands for it
	Decimals  int    `toml:"decimals"`             // of degrees: 0, 1 or 2
	Why       string `toml:"why,omitempty"`
}

// Taxon is one line of the list of taxa that a person imported.
type Taxon struct {
	ScientificName, ScientificNameID, Rank, Kingdom string
}

// Licence is one that open biodiversity archives take.
type Licence struct {
	ID, Name, Title, LegalCode, Deed string
	strict                           int // how much it forbids
}

// Licences are the three that are taken, by how much they forbid. Source of the
// addresses: creativecommons.org and spdx.org.
var Licences = []Licence{
	{"CC0-1.0", "Creative Commons Zero v1.0 Universal", "Public Domain (CC0 1.0)", "http://creativecommons.org/publicdomain/zero/1.0/legalcode", "https://creativecommons.org/publicdomain/zero/1.0/", 0},
	{"CC-BY-4.0", "Creative Commons Attribution 4.0 International", "Creative Commons Attribution (CC-BY) 4.0 License", "http://creativecommons.org/licenses/by/4.0/legalcode", "https://creativecommons.org/licenses/by/4.0/", 1},
	{"CC-BY-NC-4.0", "Creative Commons Attribution Non Commercial 4.0 International", "Creative Commons Attribution Non Commercial (CC-BY-NC) 4.0 License", "http://creativecommons.org/licenses/by-nc/4.0/legalcode", "https://creativecommons.org/licenses/by-nc/4.0/", 2},
}

// LicenceIDs lists the identifiers of Licences.
func LicenceIDs() []string {
	var ids []string
	for _, l := range Licences {
		ids = append(ids, l.ID)
	}
	return ids
}

func licenceOf(id string) (Licence, bool) {
	for _, l := range Licences {
		if l.ID == id {
			return l, true
		}
	}
	return Licence{}, false
}

// Refused is what cannot be published as asked: a slug and its parameters.
type Refused struct{ assay.Said }

func (e *Refused) Error() string { return fmt.Sprint(e.Slug, " ", e.With) }

func refuse(slug string, pairs ...any) error {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return &Refused{assay.Said{Slug: "publish." + slug, With: with}}
}

// Missing names the metadata that must be given, each with its flag.
type Missing struct{ Items []MissingItem }

// MissingItem is one of them: its slug in the catalogue and its flag.
type MissingItem struct{ Slug, Flag string }

func (e *Missing) Error() string { return fmt.Sprint("publish: missing ", e.Items) }

// Blocked holds the findings that stop a publication.
type Blocked struct{ Findings []assay.Finding }

func (e *Blocked) Error() string { return fmt.Sprintf("publish: %d findings block", len(e.Findings)) }

// ReadMetadata reads a metadata file; a misspelt key is refused, with its name.
func ReadMetadata(file string, text []byte) (Metadata, error) {
	var m Metadata
	md, err := toml.Decode(string(text), &m)
	if err != nil {
		line, said := 0, err.Error()
		var pe toml.ParseError
		if errors.As(err, &pe) {
			line, said = pe.Position.Line, pe.Message
		}
		return m, refuse("metadata-unreadable", "file", file, "line", line, "said", said)
	}
	if extra := md.Undecoded(); len(extra) > 0 {
		return m, refuse("metadata-key", "file", file, "key", extra[0].String())
	}
	return m, nil
}

// Over is m with the values of o where o has any.
func (m Metadata) Over(o Metadata) Metadata {
	for _, p := range []struct{ to, from *string }{
		{&m.Title, &o.Title}, {&m.Licence, &o.Licence}, {&m.Abstract, &o.Abstract}, {&m.Publisher, &o.Publisher}, {&m.Date, &o.Date},
		{&m.DatasetID, &o.DatasetID}, {&m.Version, &o.Version}, {&m.Language, &o.Language}, {&m.Country, &o.Country}, {&m.Taxa, &o.Taxa},
		{&m.Contact.Name, &o.Contact.Name}, {&m.Contact.Email, &o.Contact.Email}, {&m.Contact.ORCID, &o.Contact.ORCID},
		{&m.Contact.Organisation, &o.Contact.Organisation}, {&m.Contact.ROR, &o.Contact.ROR}, {&m.Contact.Role, &o.Contact.Role},
	} {
		if *p.from != "" {
			*p.to = *p.from
		}
	}
	if len(o.Creator) > 0 {
		m.Creator = o.Creator
	}
	if len(o.Keywords) > 0 {
		m.Keywords = o.Keywords
	}
	if len(o.Funding) > 0 {
		m.Funding = o.Funding
	}
	if len(o.Source) > 0 {
		m.Source = o.Source
	}
	if len(o.People) > 0 {
		m.People = o.People
	}
	if len(o.Sensitive) > 0 {
		m.Sensitive = o.Sensitive
	}
	if len(o.TaxonList) > 0 {
		m.TaxonList = o.TaxonList
	}
	return m
}

// TOML writes the metadata as a file that ReadMetadata reads.
func (m Metadata) TOML() ([]byte, error) {
	type bare Metadata
	var b bytes.Buffer
	if err := toml.NewEncoder(&b).Encode(bare(m)); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// missing lists what must be given and is not.
func (m *Metadata) missing() []MissingItem {
	var items []MissingItem
	for _, p := range []struct{ value, slug, flag string }{
		{m.Title, "title", "--title"}, {m.Licence, "licence", "--licence"},
		{m.Contact.Name, "contact-name", "--contact-name"}, {m.Contact.Email, "contact-email", "--contact-email"},
	} {
		if strings.TrimSpace(p.value) == "" {
			items = append(items, MissingItem{"publish.missing-" + p.slug, p.flag})
		}
	}
	return items
}

var (
	emailForm   = pattern.New(`^[^\s@<>"]+@[^\s@<>"]+\.[^\s@<>".]+$`)
	versionForm = pattern.New(`^\d+\.\d+\.\d+$`)
	iriForm     = pattern.New(`^[A-Za-z][A-Za-z0-9+.-]*:[^\s<>"{}|\\^` + "`" + `]+$`)
	orcidForm   = pattern.New(`^\d{4}-\d{4}-\d{4}-\d{3}[\dX]$`)
	countryForm = pattern.New(`^[A-Z]{2}$`)
)

// check refuses metadata that cannot be, the first fault found.
func (m *Metadata) check() error {
	if items := m.missing(); items != nil {
		return &Missing{items}
	}
	if !isDay(m.Date) {
		return refuse("date-wrong", "given", m.Date)
	}
	return m.CheckGiven()
}

// CheckGiven refuses what is given and cannot be; what is missing is not its matter.
func (m *Metadata) CheckGiven() error {
	if _, ok := licenceOf(m.Licence); m.Licence != "" && !ok {
		return refuse("licence-unknown", "given", m.Licence, "may", LicenceIDs())
	}
	if m.Date != "" && !isDay(m.Date) {
		return refuse("date-wrong", "given", m.Date)
	}
	if m.Contact.Email != "" && !emailForm.MatchString(m.Contact.Email) {
		return refuse("email-wrong", "given", m.Contact.Email)
	}
	if m.DatasetID != "" && !iriForm.MatchString(m.DatasetID) {
		return refuse("dataset-id-wrong", "given", m.DatasetID)
	}
	if m.Version != "" && !versionForm.MatchString(m.Version) {
		return refuse("version-wrong", "given", m.Version)
	}
	if m.Country != "" && !countryForm.MatchString(m.Country) {
		return refuse("country-wrong", "given", m.Country)
	}
	for _, p := range append([]Party{m.Contact}, m.Creator...) {
		if p.ORCID != "" && !validORCID(p.ORCID) {
			return refuse("orcid-wrong", "given", p.ORCID)
		}
		if p.ROR != "" && !validROR(p.ROR) {
			return refuse("ror-wrong", "given", p.ROR)
		}
	}
	for _, c := range m.Creator {
		if c.Name == "" && c.Organisation == "" {
			return refuse("creator-nameless")
		}
	}
	for _, f := range m.Funding {
		if f.ROR != "" && !validROR(f.ROR) {
			return refuse("ror-wrong", "given", f.ROR)
		}
	}
	if err := m.checkPeople(); err != nil {
		return err
	}
	return m.checkSensitive()
}

func (m *Metadata) checkPeople() error {
	for _, p := range m.People {
		switch {
		case p.Name == "":
			return refuse("person-nameless")
		case p.ORCID != "" && !validORCID(p.ORCID):
			return refuse("orcid-wrong", "given", p.ORCID)
		case p.AgreedOn != "" && !isDay(p.AgreedOn):
			return refuse("date-wrong", "given", p.AgreedOn)
		case p.EmbargoTo != "" && !isDay(p.EmbargoTo):
			return refuse("date-wrong", "given", p.EmbargoTo)
		case p.Named && !p.Minor && (p.AgreedOn == "" || p.Wording == ""):
			return refuse("consent-unproven", "name", p.Name)
		}
		if _, ok := licenceOf(p.Licence); p.Licence != "" && !ok {
			return refuse("licence-unknown", "given", p.Licence, "may", LicenceIDs())
		}
	}
	return nil
}

func (m *Metadata) checkSensitive() error {
	seen := map[string]bool{}
	for _, s := range m.Sensitive {
		switch {
		case s.Site == "":
			return refuse("sensitive-nameless")
		case s.PublishAs == "" || s.PublishAs == s.Site || seen[s.PublishAs]:
			return refuse("sensitive-alias", "site", s.Site)
		case s.Decimals < 0 || s.Decimals > 2:
			return refuse("sensitive-decimals", "site", s.Site, "given", s.Decimals)
		}
		seen[s.PublishAs] = true
	}
	return nil
}

func isDay(s string) bool {
	_, err := time.Parse(time.DateOnly, s)
	return err == nil
}

// creators are those given, else the contact.
func (m *Metadata) creators() []Party {
	if len(m.Creator) > 0 {
		return m.Creator
	}
	return []Party{m.Contact}
}

// validORCID checks form and check character, with or without the address.
//
// Source: ISO 7064 MOD 11-2, as ORCID describes it for its identifiers.
func validORCID(s string) bool {
	s = bareORCID(s)
	if !orcidForm.MatchString(s) {
		return false
	}
	s = strings.ReplaceAll(s, "-", "")
	t := 0
	for _, c := range s[:15] {
		t = (t + int(c-'0')) * 2
	}
	return "0123456789X"[(12-t%11)%11] == s[15]
}

func bareORCID(s string) string {
	return strings.TrimPrefix(strings.TrimPrefix(s, "https://orcid.org/"), "http://orcid.org/")
}

// validROR checks form and check digits, with or without the address.
//
// Source: ISO 7064 MOD 97-10 over Crockford's base 32, as ROR describes it.
func validROR(s string) bool {
	const letters = "0123456789abcdefghjkmnpqrstvwxyz"
	s = bareROR(s)
	if len(s) != 9 || s[0] != '0' {
		return false
	}
	v := 0
	for _, c := range s[:7] {
		i := strings.IndexRune(letters, c)
		if i < 0 {
			return false
		}
		v = v*32 + i
	}
	return fmt.Sprintf("%02d", 98-v*100%97) == s[7:]
}

func bareROR(s string) string { return strings.TrimPrefix(s, "https://ror.org/") }
