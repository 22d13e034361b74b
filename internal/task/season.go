package task

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/gear"
	"soakline/internal/intake"
	"soakline/internal/logbook"
	"soakline/internal/plan"
	"soakline/internal/publish"
	"soakline/internal/quality"
	"soakline/internal/rates"
	"soakline/internal/sheet"
	"soakline/internal/water"
	"soakline/internal/words"
)

// Season is what a source holds, judged: the records of a logbook, or of
// datasheet files read as they are.
type Season struct {
	Deployments []assay.Deployment // live ones, in the order in which they were made or written
	Findings    []assay.Finding
	Protocols   map[string]assay.Protocol
	Settings    Settings
	Sites       []assay.Site
	Batches     []gear.Batch
	Withdrawn   int
	Notices     []intake.Notice  // what was seen while reading files
	Taken       []words.Message  // what was assumed where a sheet left a question open
	Sources     []string         // names of the files that were read
	Publication publish.Metadata // what the logbook keeps to be said of a publication
	Plans       []plan.Kept      // analysis plans of the logbook, the first one first, also those withdrawn

	tells     func(*assay.Finding) bool          // of Outward: whether a finding tells a sensitive place
	sea       map[*assay.Deployment]*quality.Sea // of rows whose site has a tide or a logger
	seaNames  map[string]bool                    // of what readSea has worked out
	tides     map[string]*water.Opened           // by the site's name; of sites whose tide reads
	lightOnce *sync.Once
	book      bool               // it comes from a logbook, which may keep plans
	out       []assay.Deployment // withdrawn rows
	telling   func(string) bool  // of Outward: whether a text tells a sensitive place
	hidden    []bool             // of Outward: rows whose place, and so the state of tide and light, is not told
}

// LoadOptions say how files are read; a logbook needs none of it.
type LoadOptions struct {
	Now     time.Time         // what the time is, for the rule about the future; zero leaves it out
	Answers map[string]string // answers to questions about the sheets
	Yes     bool              // take the proposals
}

// IsLogbook says whether a file is a SQLite database, as every logbook is.
func IsLogbook(path string) (bool, error) {
	f, err := os.Open(path)
	if err != nil {
		return false, err
	}
	defer f.Close()
	head := make([]byte, 16)
	n, err := io.ReadFull(f, head)
	if err != nil && n < len(head) {
		return false, nil
	}
	return bytes.Equal(head, []byte("SQLite format 3\x00")), nil
}

// Load reads a logbook, or one or more datasheet files together.
func Load(ctx context.Context, sources []string, o LoadOptions) (*Season, error) {
	if len(sources) == 0 {
		return nil, refuse("no-source")
	}
	for _, path := range sources {
		if info, err := os.Stat(path); err != nil {
			return nil, err
		} else if info.IsDir() {
			continue // of a package, or refused when it is read
		}
		is, err := IsLogbook(path)
		if err != nil {
			return nil, err
		}
		if is || strings.HasSuffix(path, ".logbook") {
			if len(sources) > 1 {
				return nil, refuse("several-sources")
			}
			book, err := Open(ctx, path, true)
			if err != nil {
				return nil, err
			}
			defer book.Close()
			return Of(ctx, book, o.Now)
		}
	}
	files, err := readAll(sources)
	if err != nil {
		return nil, err
	}
	return fromFiles(ctx, files, o)
}

// Of is the season of an open logbook.
func Of(ctx context.Context, book *logbook.Book, now time.Time) (s *Season, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		s, err = seasonOf(ctx, tx, now, nil)
		return err
	})
	return s, err
}

// HowMany is the number of live deployments in a logbook.
func HowMany(ctx context.Context, book *logbook.Book) (n int, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		n, _, err = tx.Count(kindDeployment)
		return err
	})
	return n, err
}

// seasonOf is the season as a transaction sees it, also what it has not kept yet.
// known are its live deployments where the caller holds them, else nil.
func seasonOf(ctx context.Context, tx *logbook.Tx, now time.Time, known []assay.Deployment) (*Season, error) {
	s := &Season{lightOnce: new(sync.Once), book: true}
	var err error
	if s.Plans, err = Plans(tx); err != nil {
		return nil, err
	}
	if s.Settings, err = SettingsOf(tx); err != nil {
		return nil, err
	}
	if s.Protocols, _, err = Protocols(tx); err != nil {
		return nil, err
	}
	if s.Sites, err = Sites(tx); err != nil {
		return nil, err
	}
	if s.Publication, err = Publication(tx); err != nil {
		return nil, err
	}
	if s.Batches, err = Batches(tx); err != nil {
		return nil, err
	}
	answers, err := answersOf(tx)
	if err != nil {
		return nil, err
	}
	sources, err := tx.Sources()
	if err != nil {
		return nil, err
	}
	pictures, err := scanSources(tx)
	if err != nil {
		return nil, err
	}
	for _, src := range sources {
		if !pictures[src.ID] { // a photo of a sheet is no sheet that was read
			s.Sources = append(s.Sources, src.Name)
		}
	}
	if known != nil {
		s.Deployments = known
	} else if err := s.readRows(ctx, tx); err != nil {
		return nil, err
	}
	s.Settings.Invented = s.Settings.Invented || s.allInvented()
	s.readSea(tx)
	s.judge(now, answers)
	return s, nil
}

// inventedMark in the name of a programme says that nothing in it is real.
const inventedMark = "(invented)"

// allInvented says whether every row belongs to a programme marked as invented.
func (s *Season) allInvented() bool {
	for i := range s.Deployments {
		if !strings.Contains(s.Deployments[i].Programme, inventedMark) {
			return false
		}
	}
	return len(s.Deployments) > 0
}

// readRows reads the live deployments of a logbook.
func (s *Season) readRows(ctx context.Context, tx *logbook.Tx) error {
	n, _, err := tx.Count(kindDeployment)
	if err != nil {
		return err
	}
	one := once{}
	s.Deployments = make([]assay.Deployment, 0, n) // growing step by step would hold a large season twice
	for r, err := range tx.Records(kindDeployment) {
		if err != nil {
			return err
		}
		if r.State != logbook.Live {
			s.Withdrawn++
			s.out = append(s.out, entryOf(r).Deployment)
			continue
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		s.Deployments = append(s.Deployments, entryOf(r).Deployment)
		one.texts(&s.Deployments[len(s.Deployments)-1])
	}
	return nil
}

// once keeps one copy of a text that many records hold.
type once map[string]string

func (o once) texts(d *assay.Deployment) {
	for _, p := range []*string{&d.Programme, &d.Season, &d.Team, &d.Site, &d.Habitat, &d.Protocol, &d.Observers, &d.BaitKind, &d.BaitForm, &d.BaitBatch} {
		if *p == "" {
			continue
		}
		if _, known := o[*p]; !known {
			o[*p] = *p
		}
		*p = o[*p]
	}
}

// judge applies the rules.
func (s *Season) judge(now time.Time, answers map[assay.AnswerKey]assay.Answer) {
	s.Findings = quality.Judge(s.Deployments, quality.Context{
		Protocols: s.Protocols, Default: s.Settings.Protocol, Sites: s.Sites, Batches: s.Batches, Now: now, Answers: answers,
		Sea: func(d *assay.Deployment) *quality.Sea { return s.sea[d] },
	})
}

// Hash is the SHA-256 of all canonical values, hexadecimal: the same records
// have the same hash wherever they were read from.
func (s *Season) Hash() string { return hashOf(s.Deployments) }

// hashOf is the SHA-256 of every record's canonical values, fields in byte
// order, records by identity and then by their text, so that it is the same
// for the same records wherever they were read from.
func hashOf(ds []assay.Deployment) string {
	lines := make([]string, len(ds))
	for i := range ds {
		values := sheet.Values(&ds[i])
		delete(values, "global_id") // where it came from is not what it says
		delete(values, "licence")
		names := make([]string, 0, len(values))
		for n := range values {
			names = append(names, n)
		}
		sort.Strings(names)
		var b strings.Builder
		for _, n := range names {
			b.WriteString(n)
			b.WriteByte('=')
			b.WriteString(strconv.Quote(values[n]))
			b.WriteByte('\n')
		}
		lines[i] = b.String()
	}
	sort.Strings(lines)
	h := sha256.New()
	for _, l := range lines {
		h.Write([]byte(l))
		h.Write([]byte{'\n'})
	}
	return hex.EncodeToString(h.Sum(nil))
}

// Rates of the season.
func (s *Season) Rates(ctx context.Context, o rates.Options) (*rates.Result, error) {
	o.Protocols = map[string]*assay.Protocol{}
	for name, p := range s.Protocols {
		o.Protocols[name] = &p
	}
	usual := s.usual()
	o.Protocols[""] = &usual
	o.Findings = s.Findings
	return rates.Compute(ctx, s.Deployments, o)
}

// usual is the protocol of records that name none.
func (s *Season) usual() assay.Protocol {
	if p, ok := s.Protocols[s.Settings.Protocol]; ok {
		return p
	}
	return s.Protocols[sheet.DefaultProtocol]
}

// Compare the season's rows.
func (s *Season) Compare(ctx context.Context, o compare.Options) (*compare.Result, error) {
	o.Protocols, o.Default, o.Findings = s.Protocols, s.Settings.Protocol, s.Findings
	if usual := []string{"habitat", "site", "season", "team", ""}; len(o.Covariates) > 0 || !slices.Contains(usual, o.By) {
		s.DeriveLight() // whoever reads what was worked out comes by here first
	}
	k, err := compare.Run(ctx, s.Deployments, o)
	if err == nil {
		s.Stand(o, k, Beside{})
	}
	return k, err
}
