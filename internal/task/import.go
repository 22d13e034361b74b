package task

import (
	"context"
	"errors"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"soakline/internal/assay"
	"soakline/internal/intake"
	"soakline/internal/logbook"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// ImportOptions say how files are taken into a logbook.
type ImportOptions struct {
	By
	Answers map[string]string
	Yes     bool
	Map     string // name under which the column map is kept; empty takes the file's
	// Look reads, matches and judges but keeps nothing.
	Look     bool
	Progress func(done, of int)
}

// Change is what an import does to one record.
type Change string

// The changes.
const (
	Created   Change = "created"
	Revised   Change = "revised"
	Unchanged Change = "unchanged"
)

// Imported is one record of an import.
type Imported struct {
	Key    string
	ID     string
	Change Change
	Where  assay.Place
	Fields []string // changed by a revision
}

// ImportResult is what an import did, or would do.
type ImportResult struct {
	Records  []Imported
	Created  int
	Revised  int
	Same     int
	Known    []string // names of files that had been taken in before, byte for byte
	Maps     []intake.Map
	Reasons  []intake.Reason
	Notices  []intake.Notice
	Taken    []words.Message
	Findings []assay.Finding // of the records of this import
}

// Parked counts the records that a block keeps out of results.
func (r *ImportResult) Parked() int {
	parked := map[string]bool{}
	for _, f := range r.Findings {
		if f.Severity == assay.Block {
			parked[f.Key] = true
		}
	}
	return len(parked)
}

// Import takes files into a logbook, whole or not at all. Cells that cannot be
// read come back as a FaultyFile, what only a person can say as Questions; the
// logbook is then as it was. The same bytes again change nothing. A corrected
// copy changes what was corrected in it, and leaves what was corrected in the
// logbook since.
func Import(ctx context.Context, book *logbook.Book, files []File, o ImportOptions) (*ImportResult, error) {
	if err := checkAnswers(o.Answers); err != nil {
		return nil, err
	}
	g, err := tables(files)
	if err != nil {
		return nil, err
	}
	result := &ImportResult{}
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		im := importing{tx: tx, o: o, r: result, touched: map[string]int{}, sources: map[string]string{}}
		if err := im.run(ctx, files, g); err != nil {
			return err
		}
		if err := result.judge(ctx, tx, o.When, im.made); err != nil {
			return err
		}
		if o.Look {
			return errLooked
		}
		return nil
	})
	if err != nil && !errors.Is(err, errLooked) {
		return nil, err
	}
	return result, nil
}

var errLooked = refuse("looked-only")

// importing is one import at work.
type importing struct {
	tx       *logbook.Tx
	o        ImportOptions
	r        *ImportResult
	settings Settings
	c        intake.Context
	touched  map[string]int     // line of each record of this import, by key
	sources  map[string]string  // id of each file's source
	byTime   map[string][]Entry // rows in the logbook by site and time, filled when first asked
	open     []intake.Question
	taken    []intake.Taken
	said     []words.Message // what was settled about rows published before
	// first says that the logbook had no deployment, so that nothing needs to be
	// looked for in it; made are then all there are, and byIdentity finds them.
	first      bool
	made       []assay.Deployment
	byIdentity map[logbook.Identity]string // keys of made

	newSites    map[string]string // zone of each site that the list lacks
	newHabitats map[string]bool
	listed      map[string]bool // what the lists have, "site NAME" and "habitat NAME"
}

func (im *importing) run(ctx context.Context, files []File, g *given) error {
	var err error
	if im.c, im.settings, err = contextOf(im.tx, im.o); err != nil {
		return err
	}
	fresh := false
	for _, f := range files {
		name := filepath.Base(f.Name)
		src, known, err := im.tx.AddSource(name, f.Data, im.o.stamp())
		if err != nil {
			return err
		}
		im.sources[f.Name] = src.ID
		if known {
			im.r.Known = append(im.r.Known, name)
		}
		fresh = fresh || !known
	}
	if !fresh {
		return nil
	}
	live, withdrawn, err := im.tx.Count(kindDeployment)
	if err != nil {
		return err
	}
	im.first, im.byIdentity = live+withdrawn == 0, map[logbook.Identity]string{}
	reading := intake.Read(g.tables, im.c)
	if err := usable(reading); err != nil {
		return err
	}
	im.r.Reasons, im.r.Notices, im.r.Maps = reading.Reasons, reading.Notices, reading.Maps
	if err := im.takePublished(ctx, g.published); err != nil {
		return err
	}
	for i, rec := range reading.Records {
		if err := ctx.Err(); err != nil {
			return err
		}
		v, where := rec.Values(), rec.Where()
		if f := g.foreign[where.File]; f != nil {
			v["global_id"], v["licence"] = f.On(where.Line)
		}
		if err := im.take(v, where); err != nil {
			return err
		}
		im.noteLists(v)
		reading.Records[i] = intake.Record{} // its texts are in the logbook now
		if im.o.Progress != nil && (i%500 == 0 || i == len(reading.Records)-1) {
			im.o.Progress(i+1, len(reading.Records))
		}
	}
	im.r.Taken = append(takenMessages(append(reading.Taken, im.taken...)), im.said...)
	if len(im.open) > 0 {
		return &Questions{Open: im.open, Reasons: reading.Reasons, Taken: reading.Taken}
	}
	if err := im.keepLists(); err != nil {
		return err
	}
	return im.keepMaps(reading.Maps)
}

// take puts one record into the logbook.
func (im *importing) take(v map[string]string, where assay.Place) error {
	fillFrom(v, im.settings)
	name := filepath.Base(where.File)
	if where.Sheet != "" {
		name += " / " + where.Sheet
	}
	written := v["deployment_id"]
	key, skip, err := im.match(name, where, v)
	if err != nil || skip {
		return err
	}
	if key != "" {
		if v, err = im.onto(key, v); err != nil {
			return err
		}
	}
	return im.put(key, v, where, name, written)
}

// put keeps a record and notes what became of it; written is what the file
// called it.
func (im *importing) put(key string, v map[string]string, where assay.Place, name, written string) error {
	stamp := im.o.stamp()
	stamp.Source, stamp.Line = im.sources[sourceOf(im.sources, where.File)], where.Line
	rev, err := im.tx.Put(logbook.Record{Kind: kindDeployment, Key: key, Fields: v}, stamp)
	if err != nil {
		return err
	}
	if err := im.tx.AddAlias(logbook.Alias{Record: rev.Record, Source: name, Earlier: written, Line: where.Line}); err != nil {
		return err
	}
	im.touched[rev.Record] = where.Line
	if im.first {
		im.byIdentity[logbook.IdentityOf(kindDeployment, v)] = rev.Record
		im.made = append(im.made, entryOf(logbook.Record{Kind: kindDeployment, Key: rev.Record, Fields: v}).Deployment)
	}
	done := Imported{Key: rev.Record, ID: v["deployment_id"], Where: where, Change: Unchanged}
	switch {
	case !rev.Happened():
		im.r.Same++
	case rev.Action == logbook.Create:
		done.Change = Created
		im.r.Created++
	default:
		done.Change = Revised
		im.r.Revised++
		for f := range rev.Changed {
			done.Fields = append(done.Fields, f)
		}
	}
	im.r.Records = append(im.r.Records, done)
	return nil
}

// onto puts what a file says now onto a record that is there: what the file
// said before and says again leaves the record as it has been corrected since.
func (im *importing) onto(key string, now map[string]string) (map[string]string, error) {
	history, err := im.tx.History(key)
	if err != nil {
		return nil, err
	}
	state, before := map[string]string{}, map[string]string{}
	fromFile := false
	for _, rev := range history {
		for f, c := range rev.Changed {
			state[f] = c.Is()
		}
		if rev.Source != "" {
			fromFile = true
			before = map[string]string{}
			for f, text := range state {
				before[f] = text
			}
		}
	}
	out := map[string]string{}
	for f, text := range state {
		out[f] = text
	}
	for f := range before {
		if now[f] == "" && fromFile && before[f] != "" {
			out[f] = ""
		}
	}
	for f, text := range now {
		if !fromFile || before[f] != text {
			out[f] = text
		}
	}
	return trimmed(out), nil
}

// noteLists notes the sites and habitats of a record that the lists do not
// have yet; a site's zone is the one that its times were read in.
func (im *importing) noteLists(v map[string]string) {
	if im.newSites == nil {
		im.newSites, im.newHabitats, im.listed = map[string]string{}, map[string]bool{}, map[string]bool{}
		for _, s := range im.c.Sites {
			im.listed["site "+s.Name] = true
		}
		for _, h := range im.c.Habitats {
			im.listed["habitat "+h.Name] = true
		}
	}
	if name := v["site"]; name != "" && !im.listed["site "+name] {
		if zone, seen := im.newSites[name]; !seen || zone == "" {
			m, _ := sheet.ParseMoment("deployed_at", v["deployed_at"])
			im.newSites[name] = m.Zone
		}
	}
	if name := v["habitat"]; name != "" && !im.listed["habitat "+name] {
		im.newHabitats[name] = true
	}
}

// keepLists adds the sites and habitats that were noted.
func (im *importing) keepLists() error {
	sites := im.c.Sites
	for _, name := range slices.Sorted(maps.Keys(im.newSites)) {
		s := assay.Site{Name: name, Zone: im.newSites[name]}
		if s.Zone == "" {
			s.Zone = im.settings.Zone
		}
		if err := putSite(im.tx, s, sites, im.o.stamp()); err != nil {
			return err
		}
		sites = append(sites, s)
	}
	for _, name := range slices.Sorted(maps.Keys(im.newHabitats)) {
		if err := putCode(im.tx, kindHabitat, name, nil, im.o.stamp()); err != nil {
			return err
		}
	}
	return nil
}

// keepMaps keeps the column maps as they were used.
func (im *importing) keepMaps(kept []intake.Map) error {
	for i, m := range kept {
		if im.o.Map != "" {
			m.Name = im.o.Map
			if i > 0 {
				m.Name += " " + strconv.Itoa(i+1)
			}
		}
		text, err := m.MarshalText()
		if err != nil {
			return err
		}
		if err := putCode(im.tx, kindMap, m.Name, map[string]string{"text": string(text), "fingerprint": m.Fingerprint}, im.o.stamp()); err != nil {
			return err
		}
	}
	return nil
}

// judge gives the findings of the records of this import, told by their lines.
func (r *ImportResult) judge(ctx context.Context, tx *logbook.Tx, now time.Time, known []assay.Deployment) error {
	if len(r.Records) == 0 {
		return nil
	}
	s, err := seasonOf(ctx, tx, now, known)
	if err != nil {
		return err
	}
	at := map[string]assay.Place{}
	for _, rec := range r.Records {
		at[rec.Key] = rec.Where
	}
	for _, f := range s.Findings {
		if where, ok := at[f.Key]; ok {
			where.Column = f.Field
			f.At = where
			r.Findings = append(r.Findings, f)
		}
	}
	return nil
}
