package task

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"soakline/internal/logbook"
	"soakline/internal/publish"
	"soakline/internal/words"
)

// kindRelease is a publication that was made and is kept: a frozen list of
// revisions and what was said of them.
const kindRelease = "release"

// Release is a publication that a logbook keeps.
type Release struct {
	Number    int
	Date      string // of publication
	Version   string // of the data set
	Title     string
	Rows      int
	Added     int
	Corrected int
	Withdrawn int
	MadeBy    string // who, and with which version of the program
	MadeOn    time.Time
	fields    map[string]string
	programme string
	sums      string
	frozen    logbook.Frozen
	metadata  publish.Metadata
	leaveOut  bool
	noFit     bool
	now       time.Time
	rows      map[string]string
	gone      []string
}

// frozenKinds says whether records of a kind are part of what a release stands on.
func frozenKinds(kind string) bool { return kind != kindRelease && kind != kindMap }

// Releases lists the publications that a logbook keeps, the first one first.
func Releases(tx *logbook.Tx) ([]Release, error) {
	var list []Release
	err := live(tx, kindRelease, func(r logbook.Record) error {
		f := r.Fields
		one := Release{Date: f["date"], Version: f["version"], Title: f["title"], MadeBy: f["made_by"], fields: f, programme: f["made_with"], sums: f["sums"]}
		one.Number, _ = strconv.Atoi(f["code"])
		one.Rows, _ = strconv.Atoi(f["rows"])
		one.Added, _ = strconv.Atoi(f["added"])
		one.Corrected, _ = strconv.Atoi(f["corrected"])
		one.Withdrawn, _ = strconv.Atoi(f["withdrawn"])
		one.MadeOn, _ = time.Parse(time.RFC3339, f["made_at"])
		list = append(list, one)
		return nil
	})
	slices.SortFunc(list, func(a, b Release) int { return a.Number - b.Number })
	return list, err
}

// open reads the lists of a release.
func (r *Release) open() error {
	bad := func() error { return refuse("release-broken", "n", r.Number) }
	f := r.fields
	if err := json.Unmarshal([]byte(f["metadata"]), &r.metadata); err != nil {
		return bad()
	}
	var err error
	if r.now, err = time.Parse(time.RFC3339Nano, f["now"]); err != nil {
		return bad()
	}
	r.leaveOut, r.noFit = f["leave_out_blocked"] == "yes", f["no_fit"] == "yes"
	r.frozen = logbook.Frozen{}
	for l := range strings.SplitSeq(gather(f, "revisions"), "\n") {
		if key, ids, ok := strings.Cut(l, " "); ok {
			r.frozen[key] = strings.Split(ids, ",")
		}
	}
	r.rows = map[string]string{}
	for l := range strings.SplitSeq(gather(f, "published"), "\n") {
		if hash, event, ok := strings.Cut(l, " "); ok {
			r.rows[event] = hash
		}
	}
	r.gone = lines(gather(f, "gone"))
	return nil
}

// asPublished is the release as publish knows the one before.
func (r *Release) asPublished() *publish.Release {
	return &publish.Release{Title: r.Title, Version: r.Version, Date: r.Date, Rows: r.rows, Withdrawn: r.gone}
}

// Texts of many lines are kept in pieces, since one field may hold a megabyte.
const pieceBytes = 500_000

func scatter(fields map[string]string, name string, list []string) {
	var b strings.Builder
	n := 0
	flush := func() {
		if b.Len() > 0 {
			n++
			fields[fmt.Sprintf("%s_%04d", name, n)] = b.String()
			b.Reset()
		}
	}
	for _, l := range list {
		if b.Len()+len(l) > pieceBytes {
			flush()
		}
		if b.Len() > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(l)
	}
	flush()
}

func gather(fields map[string]string, name string) string {
	var parts []string
	for n := 1; ; n++ {
		t, ok := fields[fmt.Sprintf("%s_%04d", name, n)]
		if !ok {
			return strings.Join(parts, "\n")
		}
		parts = append(parts, t)
	}
}

// revisionLines writes a frozen list, in the order of keys.
func revisionLines(list logbook.Frozen) []string {
	out := make([]string, 0, len(list))
	for _, key := range slices.Sorted(maps.Keys(list)) {
		out = append(out, key+" "+strings.Join(list[key], ","))
	}
	return out
}

// PublishBook publishes a logbook: what it holds now, beside the last release
// that it keeps. Where nothing at all has changed since that, it is that
// release again, byte for byte.
func PublishBook(ctx context.Context, book *logbook.Book, dir string, o PublishOptions) (res *publish.Result, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		p, err := publishing(ctx, tx, o)
		if err != nil {
			return err
		}
		if p.same {
			res, err = remake(ctx, tx, p.last, dir, o)
			return err
		}
		res, err = publish.Write(ctx, dir, p.spent())
		return err
	})
	return res, err
}

// spent hands on what is published for good: the season is this call's own, and
// a large one is not to be held beside what is made of it.
func (p *nextRelease) spent() publish.Input {
	in := *p.in
	in.Spend = true
	p.in.Deployments, p.in.Findings, p.in.Previous = nil, nil, nil
	return in
}

// PreviewBook says what a reviewer would say of a logbook's next release.
func PreviewBook(ctx context.Context, book *logbook.Book, o PublishOptions) (p *publish.Preview, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		next, err := publishing(ctx, tx, o)
		if err != nil {
			return err
		}
		in := next.in
		if next.same { // looked at as it was made
			if in, err = remadeInput(ctx, tx, next.last, o); err != nil {
				return err
			}
		}
		p, err = publish.Review(*in)
		return err
	})
	return p, err
}

// nextRelease is a publication of a logbook about to be made.
type nextRelease struct {
	in   *publish.Input // nil where it is the last one again
	last *Release       // nil before the first
	same bool           // nothing has changed since last
}

// publishing gets a release ready. Whether anything has changed is found from
// the list of revisions alone, so that a season is never read twice.
func publishing(ctx context.Context, tx *logbook.Tx, o PublishOptions) (*nextRelease, error) {
	p := &nextRelease{}
	list, err := Releases(tx)
	if err != nil {
		return nil, err
	}
	m, err := keptMetadata(tx, o)
	if err != nil {
		return nil, err
	}
	if len(list) > 0 && o.Previous == "" {
		p.last = &list[len(list)-1]
		if p.same, err = p.unchanged(tx, m, o); err != nil || p.same {
			return p, err
		}
		if err := p.last.open(); err != nil {
			return nil, err
		}
		o.Before = p.last.asPublished()
		p.last.fields = nil // the texts it was read from
	}
	list = nil
	if o.Before != nil || o.Previous != "" {
		if o.Why, err = tx.Reasons(); err != nil {
			return nil, err
		}
	}
	s, err := seasonOf(ctx, tx, o.Today, nil)
	if err != nil {
		return nil, err
	}
	p.in, err = inputWith(s, m, o)
	return p, err
}

// keptMetadata are what is kept to be said of a publication, under what is given.
func keptMetadata(tx *logbook.Tx, o PublishOptions) (m publish.Metadata, err error) {
	settings, err := SettingsOf(tx)
	if err != nil {
		return m, err
	}
	if m, err = Publication(tx); err != nil {
		return m, err
	}
	return metadataOf(m, settings, o)
}

// unchanged says whether the release about to be made is the last one again.
func (p *nextRelease) unchanged(tx *logbook.Tx, m publish.Metadata, o PublishOptions) (bool, error) {
	said, err := json.Marshal(m)
	if err != nil {
		return false, err
	}
	f := p.last.fields
	if f["metadata"] != string(said) || (f["leave_out_blocked"] == "yes") != o.LeaveOutBlocked || (f["no_fit"] == "yes") != o.NoFit {
		return false, nil
	}
	now, err := tx.Freeze(frozenKinds)
	if err != nil {
		return false, err
	}
	return gather(f, "revisions") == strings.Join(revisionLines(now), "\n"), nil
}

// Freeze publishes a logbook and keeps what was published as its next release.
// The folder is written and the release kept, or neither.
func Freeze(ctx context.Context, book *logbook.Book, dir string, o PublishOptions, by By) (res *publish.Result, err error) {
	written := false
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		p, err := publishing(ctx, tx, o)
		if err != nil {
			return err
		}
		if p.same {
			return refuse("release-same", "n", p.last.Number)
		}
		number := 1
		if p.last != nil {
			number = p.last.Number + 1
		}
		if res, err = publish.Write(ctx, dir, p.spent()); err != nil {
			return err
		}
		written, res.Release = true, number
		return keepRelease(tx, number, p, res, o, by)
	})
	if err != nil && written {
		return nil, errors.Join(err, os.RemoveAll(dir)) // made a moment ago, by this
	}
	return res, err
}

func keepRelease(tx *logbook.Tx, number int, p *nextRelease, res *publish.Result, o PublishOptions, by By) error {
	said, err := json.Marshal(p.in.Metadata)
	if err != nil {
		return err
	}
	m, frozen := &p.in.Metadata, res.Frozen
	list, err := tx.Freeze(frozenKinds)
	if err != nil {
		return err
	}
	fields := map[string]string{
		"date": m.Date, "version": m.Version, "title": m.Title, "metadata": string(said), "rows": strconv.Itoa(len(frozen.Rows)),
		"made_by": by.Who, "made_with": o.Version, "made_at": by.When.UTC().Format(time.RFC3339), "now": o.Today.Format(time.RFC3339Nano),
		"leave_out_blocked": yes(o.LeaveOutBlocked), "no_fit": yes(o.NoFit), "sums": sumsOf(res),
	}
	for kind, n := range frozen.Counts() {
		fields[kind] = strconv.Itoa(n)
	}
	scatter(fields, "revisions", revisionLines(list))
	var rows []string
	for _, event := range slices.Sorted(maps.Keys(frozen.Rows)) {
		rows = append(rows, frozen.Rows[event]+" "+event)
	}
	scatter(fields, "published", rows)
	scatter(fields, "gone", frozen.Withdrawn)
	return putCode(tx, kindRelease, strconv.Itoa(number), fields, by.stamp())
}

// sumsOf is the SHA-256 of the list of checksums: it stands for every byte.
func sumsOf(res *publish.Result) string {
	for _, f := range res.Files {
		if f.Path == "SHA256SUMS" {
			return f.SHA256
		}
	}
	return ""
}

// Remake makes a release again from the revisions it was made of.
func Remake(ctx context.Context, book *logbook.Book, number int, dir string, o PublishOptions) (res *publish.Result, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		list, err := Releases(tx)
		if err != nil {
			return err
		}
		for i := range list {
			if list[i].Number == number {
				res, err = remake(ctx, tx, &list[i], dir, o)
				return err
			}
		}
		return refuse("no-release", "n", number, "of", len(list))
	})
	return res, err
}

func remake(ctx context.Context, tx *logbook.Tx, r *Release, dir string, o PublishOptions) (*publish.Result, error) {
	in, err := remadeInput(ctx, tx, r, o)
	if err != nil {
		return nil, err
	}
	in.Spend = true
	res, err := publish.Write(ctx, dir, *in)
	if err != nil {
		return nil, err
	}
	res.Release = r.Number
	if sumsOf(res) != r.sums {
		res.Messages = append(res.Messages, words.Message{Slug: "publish.remade-differs", With: words.P{"n": r.Number, "was": r.programme, "is": o.Version}})
	}
	return res, nil
}

// remadeInput is what a release was made of.
func remadeInput(ctx context.Context, tx *logbook.Tx, r *Release, o PublishOptions) (*publish.Input, error) {
	if err := r.open(); err != nil {
		return nil, err
	}
	then := tx.At(r.frozen)
	again := PublishOptions{LeaveOutBlocked: r.leaveOut, NoFit: r.noFit, Version: o.Version, Progress: o.Progress}
	list, err := Releases(tx)
	if err != nil {
		return nil, err
	}
	for i := range list {
		if list[i].Number == r.Number-1 {
			if err := list[i].open(); err != nil {
				return nil, err
			}
			again.Before = list[i].asPublished()
			if again.Why, err = then.Reasons(); err != nil {
				return nil, err
			}
		}
	}
	list = nil
	s, err := seasonOf(ctx, then, r.now, nil)
	if err != nil {
		return nil, err
	}
	r.fields, r.frozen, r.rows = nil, nil, nil // the season has been read
	return inputOf(s, r.metadata, again), nil
}
