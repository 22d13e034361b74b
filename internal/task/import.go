package task

import (
	"context"
	"errors"
	"path/filepath"
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
	t, err := tables(files)
	if err != nil {
		return nil, err
	}
	result := &ImportResult{}
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		im := importing{tx: tx, o: o, r: result, touched: map[string]assay.Place{}, sources: map[string]string{}}
		if err := im.run(ctx, files, t); err != nil {
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
	touched  map[string]assay.Place // records of this import, by key
	sources  map[string]string      // id of each file's source
	byTime   map[string][]Entry     // rows in the logbook by site and time, filled when first asked
	open     []intake.Question
	taken    []intake.Taken
	// first says that the logbook had no deployment, so that nothing needs to be
	// looked for in it; made are then all there are, and byIdentity finds them.
	first      bool
	made       []assay.Deployment
	byIdentity map[logbook.Identity]logbook.Record
}

func (im *importing) run(ctx context.Context, files []File, t []intake.Table) error {
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
	im.first, im.byIdentity = live+withdrawn == 0, map[logbook.Identity]logbook.Record{}
	reading := intake.Read(t, im.c)
	if err := usable(reading); err != nil {
		return err
	}
	im.r.Reasons, im.r.Notices, im.r.Maps = reading.Reasons, reading.Notices, reading.Maps
	for i, rec := range reading.Records {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := im.take(rec); err != nil {
			return err
		}
		if im.o.Progress != nil && (i%500 == 0 || i == len(reading.Records)-1) {
			im.o.Progress(i+1, len(reading.Records))
		}
	}
	im.r.Taken = takenMessages(append(reading.Taken, im.taken...))
	if len(im.open) > 0 {
		return &Questions{Open: im.open, Reasons: reading.Reasons, Taken: reading.Taken}
	}
	if err := im.keepSites(reading); err != nil {
		return err
	}
	return im.keepMaps(reading.Maps)
}

// take puts one record into the logbook.
func (im *importing) take(rec intake.Record) error {
	v := rec.Values()
	fillFrom(v, im.settings)
	where := rec.Where()
	name := filepath.Base(where.File)
	if where.Sheet != "" {
		name += " / " + where.Sheet
	}
	written := v["deployment_id"]
	key, skip, err := im.match(name, where, v)
	if err != nil || skip {
		return err
	}
	stamp := im.o.stamp()
	stamp.Source, stamp.Line = im.sources[where.File], where.Line
	if key != "" {
		if v, err = im.onto(key, v); err != nil {
			return err
		}
	}
	rev, err := im.tx.Put(logbook.Record{Kind: kindDeployment, Key: key, Fields: v}, stamp)
	if err != nil {
		return err
	}
	if err := im.tx.AddAlias(logbook.Alias{Record: rev.Record, Source: name, Earlier: written, Line: where.Line}); err != nil {
		return err
	}
	im.touched[rev.Record] = where
	if im.first {
		r := logbook.Record{Kind: kindDeployment, Key: rev.Record, Fields: v}
		im.byIdentity[logbook.IdentityOf(kindDeployment, v)] = r
		im.made = append(im.made, entryOf(r).Deployment)
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

// match finds the record that a line of a file means: by identity, by what the
// same file called it before, or, asked, by site and time.
func (im *importing) match(name string, where assay.Place, v map[string]string) (key string, skip bool, err error) {
	r, found, err := im.identified(v)
	if err != nil {
		return "", false, err
	}
	if im.first && !found {
		return "", false, nil
	}
	if found {
		if first, twice := im.touched[r.Key]; twice {
			return im.twice(where, first, r, v)
		}
		return r.Key, false, nil
	}
	aliases, err := im.tx.FindAliases(name, v["deployment_id"])
	if err != nil {
		return "", false, err
	}
	for _, onlyLine := range []bool{false, true} {
		var fit []string
		for _, a := range aliases {
			if _, taken := im.touched[a.Record]; !taken && (!onlyLine || a.Line == where.Line) {
				fit = append(fit, a.Record)
			}
		}
		if len(fit) == 1 {
			return fit[0], false, nil
		}
	}
	return im.alike(where, v)
}

// identified finds the live record with the identity of v.
func (im *importing) identified(v map[string]string) (logbook.Record, bool, error) {
	id := logbook.IdentityOf(kindDeployment, v)
	if im.first {
		r, found := im.byIdentity[id]
		return r, found, nil
	}
	return im.tx.FindIdentity(kindDeployment, id)
}

// twice asks about an identifier that stands on two lines of one import.
func (im *importing) twice(where, first assay.Place, there logbook.Record, v map[string]string) (string, bool, error) {
	same := true
	for f, text := range v {
		same = same && there.Fields[f] == text
	}
	proposal := "another"
	if same {
		proposal = "same"
	}
	answer, err := im.ask(intake.Question{
		Key: "twice:" + v["deployment_id"] + ":" + strconv.Itoa(where.Line), Where: where, Proposal: proposal,
		Said:    assay.Said{Slug: "task.ask-twice", With: map[string]any{"id": v["deployment_id"], "first": first.Line, "line": where.Line}},
		Options: []intake.Option{said("another"), said("same")},
		Why:     assay.Said{Slug: "task.because-" + proposal},
	})
	if err != nil || answer == "same" {
		return "", true, err
	}
	for n := 2; ; n++ {
		id := v["deployment_id"] + "-" + strconv.Itoa(n)
		w := map[string]string{"deployment_id": id}
		for _, f := range []string{"programme", "team", "season", "site"} {
			w[f] = v[f]
		}
		r, found, err := im.identified(w)
		if err != nil {
			return "", false, err
		}
		if _, touched := im.touched[r.Key]; !found || !touched {
			v["deployment_id"] = id
			return r.Key, false, nil
		}
	}
}

func said(option string) intake.Option {
	return intake.Option{Value: option, Said: assay.Said{Slug: "task.option-" + option}}
}

// alike asks whether a line means a row of the logbook set out at the same
// site at the same time under another identifier.
func (im *importing) alike(where assay.Place, v map[string]string) (string, bool, error) {
	if im.byTime == nil {
		im.byTime = map[string][]Entry{}
		err := live(im.tx, kindDeployment, func(r logbook.Record) error {
			if _, ours := im.touched[r.Key]; !ours {
				k := siteTime(r.Fields)
				im.byTime[k] = append(im.byTime[k], entryOf(r))
			}
			return nil
		})
		if err != nil {
			return "", false, err
		}
	}
	for _, e := range im.byTime[siteTime(v)] {
		if _, taken := im.touched[e.Record.Key]; taken || v["habitat"] != e.Deployment.Habitat || siteTime(v) == "" {
			continue
		}
		answer, err := im.ask(intake.Question{
			Key: "same-row:" + v["deployment_id"], Where: where, Proposal: "same",
			Said:    assay.Said{Slug: "task.ask-same-row", With: map[string]any{"id": v["deployment_id"], "other": e.Deployment.ID, "site": e.Deployment.Site}},
			Options: []intake.Option{said("same"), said("another")},
			Why:     assay.Said{Slug: "task.because-same-time"},
		})
		if err != nil {
			return "", false, err
		}
		if answer == "same" {
			v["deployment_id"] = e.Deployment.ID // an identifier is given once
			return e.Record.Key, false, nil
		}
	}
	return "", false, nil
}

func siteTime(v map[string]string) string {
	m, f := sheet.ParseMoment("deployed_at", v["deployed_at"])
	if f != nil || !m.Known() {
		return ""
	}
	return v["site"] + "\x1f" + m.At.Format(time.RFC3339)
}

// ask settles a question by its answer, by its proposal under Yes, or leaves
// it open; what it gives for an open one is the proposal, and nothing is kept.
func (im *importing) ask(q intake.Question) (string, error) {
	if a, ok := im.o.Answers[q.Key]; ok {
		for _, opt := range q.Options {
			if opt.Value == a {
				return a, nil
			}
		}
		return "", &FaultyFile{[]assay.FileError{{Place: q.Where,
			Wrong: assay.Said{Slug: "intake.answer-unknown", With: map[string]any{"value": a, "key": q.Key}},
			Do:    assay.Said{Slug: "intake.answer-choose", With: map[string]any{"known": []string{q.Options[0].Value, q.Options[1].Value}}}}}}
	}
	if im.o.Yes {
		im.taken = append(im.taken, intake.Taken{Question: q, Value: q.Proposal})
		return q.Proposal, nil
	}
	im.open = append(im.open, q)
	return q.Proposal, nil
}

// keepSites adds sites and habitats that the lists do not have yet; a site's
// zone is the one that its times were read in.
func (im *importing) keepSites(reading *intake.Reading) error {
	sites, habitats := map[string]bool{}, map[string]bool{}
	for _, s := range im.c.Sites {
		sites[s.Name] = true
	}
	for _, h := range im.c.Habitats {
		habitats[h.Name] = true
	}
	for _, rec := range reading.Records {
		if name := rec.Get("site"); name != "" && !sites[name] {
			sites[name] = true
			m, _ := sheet.ParseMoment("deployed_at", rec.Get("deployed_at"))
			zone := m.Zone
			if zone == "" {
				zone = im.settings.Zone
			}
			if err := putSite(im.tx, assay.Site{Name: name, Zone: zone}, im.o.stamp()); err != nil {
				return err
			}
		}
		if name := rec.Get("habitat"); name != "" && !habitats[name] {
			habitats[name] = true
			if err := putCode(im.tx, kindHabitat, name, nil, im.o.stamp()); err != nil {
				return err
			}
		}
	}
	return nil
}

// keepMaps keeps the column maps as they were used.
func (im *importing) keepMaps(maps []intake.Map) error {
	for i, m := range maps {
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
