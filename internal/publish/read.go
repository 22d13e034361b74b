package publish

import (
	"archive/zip"
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"soakline/internal/sheet"
)

// Limits on what is read of an archive that somebody sent: a small file must
// not become a large one, nor a deep one.
const (
	maxEntries  = 200
	maxXMLBytes = 4 << 20
	maxXMLDepth = 64
	maxBytes    = 2 << 30 // of all tables together, unpacked
	maxLines    = 3_000_000
	maxColumns  = 400
	maxLine     = 1 << 20
)

// Archive is a Darwin Core Archive as read.
type Archive struct {
	// Rows are those of an archive of ours, in its order; nil for any other.
	Rows []Row
	// Header and Lines are the events of any other archive under the names of
	// their terms, with one column more for each type of measurement; nil where
	// Rows are given.
	Header []string
	Lines  [][]string
	// Licence is the one its description tells.
	Licence string

	ids []string // of the events
}

// metafile is meta.xml.
type metafile struct {
	XMLName    xml.Name    `xml:"archive"`
	Metadata   string      `xml:"metadata,attr"`
	Core       metatable   `xml:"core"`
	Extensions []metatable `xml:"extension"`
}

type metatable struct {
	RowType   string      `xml:"rowType,attr"`
	Encoding  string      `xml:"encoding,attr"`
	Separator *string     `xml:"fieldsTerminatedBy,attr"`
	Quote     *string     `xml:"fieldsEnclosedBy,attr"`
	HeadLines string      `xml:"ignoreHeaderLines,attr"`
	Files     []string    `xml:"files>location"`
	ID        *index      `xml:"id"`
	CoreID    *index      `xml:"coreid"`
	Fields    []metafield `xml:"field"`
}

type index struct {
	Index int `xml:"index,attr"`
}

type metafield struct {
	Index   *int   `xml:"index,attr"`
	Term    string `xml:"term,attr"`
	Default string `xml:"default,attr"`
}

// IsArchive says whether a zip holds a Darwin Core Archive: a meta.xml at its root.
func IsArchive(b []byte) bool {
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil || len(z.File) > maxEntries {
		return false
	}
	for _, f := range z.File {
		if f.Name == "meta.xml" {
			return true
		}
	}
	return false
}

// ReadArchive reads a Darwin Core Archive with a core of events. It gives
// Refused for one that cannot be read or is beyond the limits.
func ReadArchive(b []byte) (*Archive, error) {
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return nil, refuse("archive-unreadable", "said", err.Error())
	}
	if len(z.File) > maxEntries {
		return nil, refuse("archive-too-large", "what", strconv.Itoa(len(z.File)))
	}
	a := &archive{files: map[string]*zip.File{}, left: maxBytes}
	for _, f := range z.File {
		if a.files[f.Name] != nil {
			return nil, refuse("archive-unreadable", "said", f.Name)
		}
		a.files[f.Name] = f
	}
	m, err := a.meta()
	if err != nil {
		return nil, err
	}
	if m.Core.RowType != eventTable.rowType {
		return nil, refuse("archive-not-events", "rowtype", m.Core.RowType)
	}
	return a.events(m)
}

type archive struct {
	files map[string]*zip.File
	left  int64 // bytes that may still be unpacked
}

// xml reads a small file of the archive whole.
func (a *archive) small(name string) ([]byte, error) {
	f := a.files[name]
	if f == nil {
		return nil, refuse("archive-no-file", "file", name)
	}
	r, err := f.Open()
	if err != nil {
		return nil, refuse("archive-unreadable", "said", err.Error())
	}
	defer r.Close()
	b, err := io.ReadAll(io.LimitReader(r, maxXMLBytes+1))
	if err != nil {
		return nil, refuse("archive-unreadable", "said", err.Error())
	}
	if len(b) > maxXMLBytes {
		return nil, refuse("archive-too-large", "what", name)
	}
	return b, nil
}

func (a *archive) meta() (*metafile, error) {
	b, err := a.small("meta.xml")
	if err != nil {
		return nil, err
	}
	if err := plainXML(b); err != nil {
		return nil, refuse("archive-unreadable", "said", err.Error())
	}
	var m metafile
	if err := xml.Unmarshal(b, &m); err != nil {
		return nil, refuse("archive-unreadable", "said", err.Error())
	}
	return &m, nil
}

// plainXML refuses a document with a DOCTYPE, or nested too deeply.
func plainXML(b []byte) error {
	d := xml.NewDecoder(bytes.NewReader(b))
	for depth := 0; ; {
		t, err := d.RawToken()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		switch t.(type) {
		case xml.Directive:
			return errors.New("meta.xml has a DOCTYPE")
		case xml.StartElement:
			if depth++; depth > maxXMLDepth {
				return errors.New("meta.xml is nested too deeply")
			}
		case xml.EndElement:
			depth--
		}
	}
}

// bounded gives an error instead of more bytes than are left.
type bounded struct {
	r io.Reader
	a *archive
}

var errTooLarge = errors.New("too large")

func (b bounded) Read(p []byte) (int, error) {
	n, err := b.r.Read(p)
	if b.a.left -= int64(n); b.a.left < 0 {
		return 0, errTooLarge
	}
	return n, err
}

// each reads the lines of one table.
func (a *archive) each(t *metatable, do func(cells []string) error) error {
	if t.Encoding != "" && !strings.EqualFold(t.Encoding, "utf-8") && !strings.EqualFold(t.Encoding, "utf8") {
		return refuse("archive-encoding", "encoding", t.Encoding)
	}
	if len(t.Files) == 0 || len(t.Fields) > maxColumns {
		return refuse("archive-unreadable", "said", "meta.xml")
	}
	for _, name := range t.Files {
		f := a.files[strings.TrimSpace(name)]
		if f == nil {
			return refuse("archive-no-file", "file", name)
		}
		r, err := f.Open()
		if err != nil {
			return refuse("archive-unreadable", "said", err.Error())
		}
		err = a.lines(t, name, bounded{r, a}, do)
		r.Close()
		if err != nil {
			return err
		}
	}
	return nil
}

func (a *archive) lines(t *metatable, name string, r io.Reader, do func([]string) error) error {
	sep, quote := ',', `"`
	if t.Separator != nil {
		s := strings.NewReplacer(`\t`, "\t", `\n`, "\n").Replace(*t.Separator)
		if c, n := utf8.DecodeRuneInString(s); n == len(s) && n > 0 && c != '"' && c != '\n' && c != '\r' && c != utf8.RuneError {
			sep = c
		} else {
			return refuse("archive-unreadable", "said", "fieldsTerminatedBy")
		}
	}
	if t.Quote != nil {
		quote = *t.Quote
	}
	next := plainLines(r, sep)
	if quote == `"` {
		c := csv.NewReader(bufio.NewReaderSize(r, 1<<16))
		c.Comma, c.FieldsPerRecord, c.ReuseRecord = sep, -1, true
		next = c.Read
	}
	skip, _ := strconv.Atoi(t.HeadLines)
	for n := 0; ; n++ {
		cells, err := next()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case errors.Is(err, errTooLarge) || n > maxLines || len(cells) > maxColumns:
			return refuse("archive-too-large", "what", name)
		case err != nil:
			return refuse("archive-unreadable", "said", name+": "+err.Error())
		case n < skip:
			continue
		}
		if err := do(cells); err != nil {
			return err
		}
	}
}

// plainLines reads lines without quotes.
func plainLines(r io.Reader, sep rune) func() ([]string, error) {
	s := bufio.NewScanner(r)
	s.Buffer(make([]byte, 1<<16), maxLine)
	return func() ([]string, error) {
		if !s.Scan() {
			if err := s.Err(); err != nil {
				return nil, err
			}
			return nil, io.EOF
		}
		return strings.Split(s.Text(), string(sep)), nil
	}
}

// cell is the value of a field in a line.
func (f *metafield) cell(cells []string) string {
	if f.Index == nil || *f.Index < 0 || *f.Index >= len(cells) || cells[*f.Index] == "" {
		return f.Default
	}
	return strings.Clone(cells[*f.Index])
}

func (i *index) cell(cells []string) string {
	if i == nil || i.Index < 0 || i.Index >= len(cells) {
		return ""
	}
	return strings.Clone(cells[i.Index])
}

func shortTerm(iri string) string {
	if i := strings.LastIndexAny(iri, "/#"); i >= 0 {
		return iri[i+1:]
	}
	return iri
}

// events reads the core: rows of ours by their values, else everything.
func (a *archive) events(m *metafile) (*Archive, error) {
	out := &Archive{}
	line := map[string]int{}
	for _, f := range m.Core.Fields {
		out.Header = append(out.Header, shortTerm(f.Term))
	}
	err := a.each(&m.Core, func(cells []string) error {
		v := map[string]string{}
		for i := range m.Core.Fields {
			v[out.Header[i]] = m.Core.Fields[i].cell(cells)
		}
		if values := ours(v); values != nil {
			out.Rows = append(out.Rows, Row{Values: values, Event: v["eventID"], Licence: licenceAt(v["license"]),
				Partial: v["dataGeneralizations"] != "" || v["informationWithheld"] != "", Line: len(out.Rows) + 1})
			return nil
		}
		if out.Rows != nil {
			return nil
		}
		id := m.Core.ID.cell(cells)
		l := make([]string, len(out.Header))
		for i, h := range out.Header {
			l[i] = v[h]
		}
		line[id] = len(out.Lines)
		out.ids = append(out.ids, id)
		out.Lines = append(out.Lines, l)
		return nil
	})
	if err != nil {
		return nil, err
	}
	if out.Rows != nil {
		out.Header, out.Lines = nil, nil
		return out, nil
	}
	if a.files[m.Metadata] != nil {
		if b, err := a.small(m.Metadata); err == nil {
			out.Licence = emlLicence(b)
		}
	}
	for i := range m.Extensions {
		if t := &m.Extensions[i]; strings.HasSuffix(t.RowType, "MeasurementOrFact") {
			if err := a.measurements(t, out, line); err != nil {
				return nil, err
			}
		}
	}
	return out, nil
}

// ours are the canonical values of a row of one of our archives, or nil.
func ours(v map[string]string) map[string]string {
	text := v["dynamicProperties"]
	if v["eventType"] != "deployment" || !strings.Contains(text, `"soakline"`) {
		return nil
	}
	var p struct{ Soakline map[string]string }
	if err := json.Unmarshal([]byte(text), &p); err != nil || p.Soakline == nil {
		return nil
	}
	for name, column := range inColumns {
		if _, there := p.Soakline[name]; !there && v[column] != "" {
			p.Soakline[name] = v[column]
		}
	}
	if _, faults := sheet.Deployment(p.Soakline); faults != nil {
		return nil
	}
	return p.Soakline
}

// measurements adds one column for each type of measurement.
func (a *archive) measurements(t *metatable, out *Archive, line map[string]int) error {
	at := map[string]int{}
	for i, h := range out.Header {
		at[h] = i
	}
	var typ, value *metafield
	for i := range t.Fields {
		switch shortTerm(t.Fields[i].Term) {
		case "measurementType":
			typ = &t.Fields[i]
		case "measurementValue":
			value = &t.Fields[i]
		}
	}
	if typ == nil || value == nil {
		return nil
	}
	return a.each(t, func(cells []string) error {
		k, ok := line[t.CoreID.cell(cells)]
		name := typ.cell(cells)
		if !ok || name == "" {
			return nil
		}
		i, there := at[name]
		if !there {
			if len(out.Header) >= maxColumns {
				return refuse("archive-too-large", "what", "measurementType")
			}
			i = len(out.Header)
			at[name] = i
			out.Header = append(out.Header, name)
		}
		for len(out.Lines[k]) <= i {
			out.Lines[k] = append(out.Lines[k], "")
		}
		out.Lines[k][i] = value.cell(cells)
		return nil
	})
}

func csvBytes(lines [][]string) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	err := w.WriteAll(lines)
	return b.Bytes(), err
}
