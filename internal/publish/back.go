package publish

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/intake"
	"soakline/internal/sheet"
)

// Row is one row of stakes read back from what was published.
type Row struct {
	Values  map[string]string // canonical
	Event   string            // its identifier, the same in every version
	Licence string            // SPDX identifier, empty where none is told
	Partial bool              // something of it is withheld or generalised
	File    string
	Sheet   string
	Line    int
}

// Where is the line it was read from.
func (r *Row) Where() assay.Place {
	return assay.Place{File: r.File, Sheet: r.Sheet, Line: r.Line}
}

// Source is a file as it lies on the disk or was dropped on a page.
type Source struct {
	Name string
	Data []byte
}

// ReadBack takes what this program published out of files: archives, packages
// (as CSV files, or zipped with their descriptor) and workbooks. What it does
// not know comes back in rest; of an archive made elsewhere the events, as CSV,
// and what else it says of its rows, by the name of that CSV. Values come back
// to the letter, since nothing in them is guessed at.
func ReadBack(files []Source) (rows []Row, rest []Source, foreign map[string]*Foreign, err error) {
	foreign = map[string]*Foreign{}
	files, err = unzipped(files)
	if err != nil {
		return nil, nil, nil, err
	}
	files, err = packages(files, &rows)
	if err != nil {
		return nil, nil, nil, err
	}
	for _, f := range files {
		switch {
		case IsArchive(f.Data):
			a, err := ReadArchive(f.Data)
			if err != nil {
				return nil, nil, nil, err
			}
			if a.Rows == nil {
				tables, of, err := a.tables(f.Name)
				if err != nil {
					return nil, nil, nil, err
				}
				rest = append(rest, tables...)
				foreign[tables[0].Name] = of
			}
			for _, r := range a.Rows {
				r.File = f.Name
				rows = append(rows, r)
			}
		case isZip(f.Data):
			t, err := workbookTables(f)
			if err != nil {
				return nil, nil, nil, err
			}
			if t == nil {
				rest = append(rest, f)
				continue
			}
			if rows, err = t.rows(rows); err != nil {
				return nil, nil, nil, err
			}
		default:
			rest = append(rest, f)
		}
	}
	return rows, rest, foreign, nil
}

func isZip(b []byte) bool { return bytes.HasPrefix(b, []byte("PK\x03\x04")) }

// descriptorName is the name that a Data Package's description has.
const descriptorName = "datapackage.json"

// unzipped puts the tables of a zipped package in its place: those that lie
// beside its description.
func unzipped(files []Source) ([]Source, error) {
	var out []Source
	for _, f := range files {
		inside, err := unzipPackage(f)
		if err != nil {
			return nil, err
		}
		if inside == nil {
			inside = []Source{f}
		}
		out = append(out, inside...)
	}
	return out, nil
}

func unzipPackage(f Source) ([]Source, error) {
	if !isZip(f.Data) || IsArchive(f.Data) {
		return nil, nil
	}
	z, err := zip.NewReader(bytes.NewReader(f.Data), int64(len(f.Data)))
	if err != nil || len(z.File) > maxEntries {
		return nil, nil // intake says what is wrong with it
	}
	at := slices.IndexFunc(z.File, func(e *zip.File) bool { return path.Base(e.Name) == descriptorName })
	if at < 0 {
		return nil, nil
	}
	dir, left := path.Dir(z.File[at].Name), int64(maxBytes)
	var out []Source
	for _, e := range z.File {
		if path.Dir(e.Name) != dir || !strings.HasSuffix(e.Name, ".csv") && path.Base(e.Name) != descriptorName {
			continue
		}
		r, err := e.Open()
		if err != nil {
			return nil, refuse("archive-unreadable", "said", err.Error())
		}
		b, err := io.ReadAll(io.LimitReader(r, left+1))
		r.Close()
		if err != nil {
			return nil, refuse("archive-unreadable", "said", err.Error())
		}
		if left -= int64(len(b)); left < 0 {
			return nil, refuse("archive-too-large", "what", f.Name)
		}
		out = append(out, Source{f.Name + "/" + path.Base(e.Name), b})
	}
	return out, nil
}

// PackageFiles names the tables that a description lists, those that lie beside it.
func PackageFiles(descriptor []byte) []string {
	var p struct{ Resources []struct{ Path any } }
	if json.Unmarshal(descriptor, &p) != nil {
		return nil
	}
	var names []string
	for _, r := range p.Resources {
		if name, ok := r.Path.(string); ok && strings.HasSuffix(name, ".csv") && path.Base(name) == name && len(names) < maxEntries {
			names = append(names, name)
		}
	}
	return names
}

// tableSet holds the tables of one package or workbook, by what they hold.
type tableSet struct {
	file   string
	tables map[string]*given
}

// given is one table: its heading, and its lines one by one.
type given struct {
	file, sheet string
	head        []string
	each        func(do func(line int, cells []string) error) error
}

// tableOf says which of our tables has this heading; empty for none.
func tableOf(head []string) string {
	has := func(names ...string) bool {
		for _, n := range names {
			if !slices.Contains(head, n) {
				return false
			}
		}
		return true
	}
	if len(head) == 0 || head[0] != "deployment_id" && head[0] != "row" {
		return ""
	}
	switch {
	case has("event_id", "position_generalised", "declared"):
		return "identifiers"
	case has("in_model", "at_risk", "from_h"):
		return "intervals"
	case has("stake", "check", "fate", "how"):
		return "stakes"
	case has(sightingColumns...):
		return "sightings"
	case has("deployment_id", "site", "habitat", "deployed_at", "baits_deployed"):
		return "deployments"
	}
	return ""
}

// packages takes the CSV files of packages of ours out of files: those in one
// folder, of which one holds the identifiers.
func packages(files []Source, rows *[]Row) ([]Source, error) {
	folders := map[string]*tableSet{}
	kind := make([]string, len(files))
	for i, f := range files {
		if isZip(f.Data) || len(f.Data) == 0 {
			continue
		}
		t := csvTable(f)
		if kind[i] = tableOf(t.head); kind[i] == "" {
			continue
		}
		dir := path.Dir(strings.ReplaceAll(f.Name, `\`, "/"))
		p := folders[dir]
		if p == nil {
			p = &tableSet{file: f.Name, tables: map[string]*given{}}
			folders[dir] = p
		}
		if p.tables[kind[i]] != nil {
			p.tables["twice"] = t // two tables of one kind are no package of ours
		}
		p.tables[kind[i]] = t
	}
	var rest []Source
	for i, f := range files {
		p := folders[path.Dir(strings.ReplaceAll(f.Name, `\`, "/"))]
		ours := p != nil && p.tables["identifiers"] != nil && p.tables["deployments"] != nil && p.tables["twice"] == nil
		switch {
		case path.Base(f.Name) == descriptorName:
		case !ours || kind[i] == "":
			rest = append(rest, f)
		case kind[i] == "deployments":
			var err error
			if *rows, err = p.rows(*rows); err != nil {
				return nil, err
			}
		}
	}
	return rest, nil
}

// csvTable is a CSV file as a table; without a heading when it is none.
func csvTable(f Source) *given {
	open := func() *csv.Reader {
		c := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(f.Data, []byte("\ufeff"))))
		c.FieldsPerRecord = -1
		return c
	}
	t := &given{file: f.Name}
	t.head, _ = open().Read()
	t.each = func(do func(int, []string) error) error {
		c := open()
		for n := 0; ; n++ {
			cells, err := c.Read()
			switch {
			case errors.Is(err, io.EOF):
				return nil
			case err != nil:
				return refuse("archive-unreadable", "said", f.Name+": "+err.Error())
			case n > maxLines || len(cells) > maxColumns:
				return refuse("archive-too-large", "what", f.Name)
			case n == 0:
				continue
			}
			line, _ := c.FieldPos(0)
			if err := do(line, cells); err != nil {
				return err
			}
		}
	}
	return t
}

// workbookTables are the tables of a workbook of ours, nil for any other.
func workbookTables(f Source) (*tableSet, error) {
	sheets, faults := intake.Sheets(f.Name, f.Data, intake.Options{})
	if len(faults) > 0 || len(sheets) == 0 || sheets[0].Name != dictionarySheet || sheets[0].Len() == 0 || !slices.Equal(sheets[0].Cells(0), dictionaryHead) {
		return nil, nil // intake says what is wrong with it
	}
	p := &tableSet{file: f.Name, tables: map[string]*given{}}
	for _, s := range sheets[1:] {
		if s.Len() == 0 {
			continue
		}
		t := &given{file: f.Name, sheet: s.Name, head: s.Cells(0)}
		t.each = func(do func(int, []string) error) error {
			for i := 1; i < s.Len(); i++ {
				if err := do(s.Line(i), s.Cells(i)); err != nil {
					return err
				}
			}
			return nil
		}
		p.tables[tableOf(t.head)] = t
	}
	if p.tables["deployments"] == nil || p.tables["identifiers"] == nil {
		return nil, nil
	}
	return p, nil
}

// rows joins the tables again by their keys.
func (p *tableSet) rows(rows []Row) ([]Row, error) {
	at := map[string]int{}
	key := p.tables["deployments"].head[0]
	err := p.lines("deployments", func(t *given, line int, v map[string]string) error {
		id := v[key]
		if _, twice := at[id]; twice || id == "" {
			return refuse("package-key", "file", t.file, "line", line, "column", key)
		}
		at[id] = len(rows)
		if key == "row" {
			delete(v, "row")
		}
		rows = append(rows, Row{Values: v, File: t.file, Sheet: t.sheet, Line: line})
		return nil
	})
	if err != nil {
		return nil, err
	}
	find := func(t *given, line int, v map[string]string) (*Row, error) {
		i, ok := at[v[key]]
		if !ok {
			return nil, refuse("package-key", "file", t.file, "line", line, "column", key)
		}
		return &rows[i], nil
	}
	err = p.lines("identifiers", func(t *given, line int, v map[string]string) error {
		r, err := find(t, line, v)
		if err != nil {
			return err
		}
		r.Event, r.Licence, r.Partial = v["event_id"], v["licence"], v["position_generalised"] != "" || v["withheld"] != ""
		return nil
	})
	if err != nil {
		return nil, err
	}
	if err := p.below(find); err != nil {
		return nil, err
	}
	for _, i := range at {
		if _, faults := sheet.Deployment(rows[i].Values); faults != nil {
			return nil, refuse("package-value", "file", rows[i].File, "line", rows[i].Line, "column", faults[0].Column)
		}
	}
	return rows, nil
}

// below reads fates and sightings into the rows they belong to.
func (p *tableSet) below(find func(*given, int, map[string]string) (*Row, error)) error {
	fates, seen := map[*Row][]assay.StakeFate{}, map[*Row][]assay.Sighting{}
	err := p.lines("stakes", func(t *given, line int, v map[string]string) error {
		r, err := find(t, line, v)
		if err != nil {
			return err
		}
		stake, err1 := strconv.Atoi(v["stake"])
		check, err2 := strconv.Atoi(v["check"])
		if err1 != nil || err2 != nil || check < 1 || check > sheet.MaxChecks {
			return refuse("package-value", "file", t.file, "line", line, "column", "stake")
		}
		fates[r] = append(fates[r], assay.StakeFate{Stake: stake, Check: check, Fate: assay.Fate(v["fate"]), How: assay.How(v["how"])})
		return nil
	})
	if err != nil {
		return err
	}
	err = p.lines("sightings", func(t *given, line int, v map[string]string) error {
		r, err := find(t, line, v)
		if err != nil {
			return err
		}
		delete(v, "row")
		s, faults := sheet.Sighting(v)
		if faults != nil {
			return refuse("package-value", "file", t.file, "line", line, "column", faults[0].Column)
		}
		seen[r] = append(seen[r], s)
		return nil
	})
	if err != nil {
		return err
	}
	for r, list := range fates {
		by := map[int][]assay.StakeFate{}
		for _, f := range list {
			by[f.Check] = append(by[f.Check], f)
		}
		for check, list := range by {
			r.Values["fates_at_check"+strconv.Itoa(check)] = sheet.FormatFates(list)
		}
	}
	for r, list := range seen {
		r.Values["sightings"] = sheet.FormatSightings(list)
	}
	return nil
}

// lines goes through the lines of a table as values by heading, empty ones left out.
func (p *tableSet) lines(name string, do func(*given, int, map[string]string) error) error {
	t := p.tables[name]
	if t == nil {
		return nil
	}
	return t.each(func(line int, cells []string) error {
		v := make(map[string]string, len(cells))
		for i, c := range cells {
			if c != "" && i < len(t.head) {
				v[t.head[i]] = c
			}
		}
		if len(v) == 0 {
			return nil
		}
		return do(t, line, v)
	})
}

// licenceAt is the SPDX identifier of a licence told by its address or
// identifier; what is none of ours comes back as it is.
func licenceAt(s string) string {
	bare := strings.TrimPrefix(strings.TrimPrefix(strings.TrimSpace(s), "https://"), "http://")
	for _, l := range Licences {
		for _, known := range []string{l.ID, l.LegalCode, l.Deed, "https://spdx.org/licenses/" + l.ID + ".html", "https://spdx.org/licenses/" + l.ID} {
			known = strings.TrimPrefix(strings.TrimPrefix(known, "https://"), "http://")
			if strings.EqualFold(strings.TrimSuffix(bare, "/"), strings.TrimSuffix(known, "/")) {
				return l.ID
			}
		}
	}
	return strings.TrimSpace(s)
}
