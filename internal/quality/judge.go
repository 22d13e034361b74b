package quality

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"soakline/internal/assay"
	"soakline/internal/gear"
	"soakline/internal/place"
	"soakline/internal/rates"
	"soakline/internal/sheet"
)

// AnswerKey says which question was answered; see assay.AnswerKey.
type AnswerKey = assay.AnswerKey

// Answer is what a person said to a question; see assay.Answer.
type Answer = assay.Answer

// Context is what the rules need beside the records.
type Context struct {
	// Protocols by name and version; nil for those that the program brings.
	Protocols map[string]assay.Protocol
	// Default is the protocol of records that name none, or one not in
	// Protocols; empty for sheet.DefaultProtocol.
	Default string
	// Sites is the site list. A site's position, where the list has one, is what
	// its rows are compared with; its synonyms join spellings.
	Sites []assay.Site
	// Now is the time of the judging; zero leaves out the rule about the future.
	Now time.Time
	// Batches is the list of bait batches; empty where none is kept.
	Batches []gear.Batch
	// Answers that were given before.
	Answers map[AnswerKey]Answer
	// InlandKm is how far a position lies inland, negative at sea; nil for the
	// embedded coarse shoreline (place.InlandKm).
	InlandKm func(latDeg, lonDeg float64) float64
	// Sea gives what the site book and its files say of a row's water; nil, or nil
	// from it, where nothing is known. It is asked for several rows at once.
	Sea func(d *assay.Deployment) *Sea
}

// judging is one run of the rules over the records.
type judging struct {
	ctx      Context
	sites    siteNames
	rows     []row
	usual    *assay.Protocol // of records that name none
	found    []found         // the piece being filled
	full     [][]found       // the pieces before it; see keep
	rule     *Rule
	stakes   []assay.StakeFate // of the row stakesOf, by stake and check
	stakesOf *row
	// What several rules share, worked out when first asked for.
	verdicts []verdict
	inlandKm map[point]float64
	twins    *twins
	zones    map[string]*time.Location
}

// row is one deployment with what several rules need of it.
type row struct {
	d *assay.Deployment
	i int // place in the input
	p *assay.Protocol
	// protocolKnown is false when the record names a protocol that is not there.
	protocolKnown bool
	// checks are d.Checks with the counts that stake-level fates say.
	checks []assay.Check
	// lost is what package rates takes as lost by each of them, and lostNote how
	// it came about.
	lost     []int
	lostNote string
	site     string // the site's one name, folded
	named    string // see record
	j        *judging
}

type found struct {
	i int
	assay.Finding
}

// hit is what a rule says of one row; slug and severity come with the rule.
type hit struct {
	check int
	field string // canonical column
	value string // as read
	with  map[string]any
	// about are the values the finding is about, for its fingerprint; nil when
	// it is about value alone.
	about []any
}

// Judge applies every rule to the records and returns what they found, in the
// order of the records, within one by severity, check, slug and column. The
// same records in another order give the same findings.
func Judge(deps []assay.Deployment, ctx Context) []assay.Finding {
	j := &judging{ctx: ctx}
	if j.ctx.Protocols == nil {
		j.ctx.Protocols, _ = sheet.Protocols()
	}
	if j.ctx.Default == "" {
		j.ctx.Default = sheet.DefaultProtocol
	}
	if j.ctx.InlandKm == nil {
		j.ctx.InlandKm = place.InlandKm
	}
	j.sites = newSiteNames(ctx.Sites)
	j.prepare(deps)
	all := Rules()
	j.judgeRows(all)
	for k := range all {
		if j.rule = &all[k]; j.rule.across != nil {
			j.rule.across(j)
		}
	}
	return j.sorted()
}

// rowsAtLeast is how many rows are worth another hand.
const rowsAtLeast = 500

// judgeRows applies the rules that look at one row alone, on every core: each
// hand has a stretch of rows, and what it finds is put in order at the end.
func (j *judging) judgeRows(all []Rule) {
	hands := max(1, min(runtime.GOMAXPROCS(0), len(j.rows)/rowsAtLeast))
	at := make([]*judging, hands)
	var done sync.WaitGroup
	for h := range at {
		at[h] = &judging{ctx: j.ctx, sites: j.sites, rows: j.rows[h*len(j.rows)/hands : (h+1)*len(j.rows)/hands], usual: j.usual}
		done.Go(func() { at[h].judgeStretch(all) })
	}
	done.Wait()
	for _, hand := range at {
		j.full = append(append(j.full, hand.full...), hand.found)
	}
	for i := range j.rows {
		j.rows[i].j = j
	}
}

func (j *judging) judgeStretch(all []Rule) {
	// Row by row, so that what the rules of one row share can be thrown away.
	for i := range j.rows {
		j.rows[i].j = j
		for k := range all {
			if j.rule = &all[k]; j.rule.one != nil {
				j.rule.one(&j.rows[i])
			}
		}
	}
}

func (j *judging) prepare(deps []assay.Deployment) {
	protocols := map[string]*assay.Protocol{}
	for name, p := range j.ctx.Protocols {
		protocols[name] = &p
	}
	usual := protocols[j.ctx.Default]
	if usual == nil {
		own, _ := sheet.Protocols()
		p := own[sheet.DefaultProtocol]
		usual = &p
	}
	j.usual = usual
	j.rows = make([]row, len(deps))
	for i := range deps {
		d := &deps[i]
		r := row{d: d, i: i, j: j, p: usual, protocolKnown: true, checks: d.Checks, site: j.sites.fold(d.Site)}
		if d.Protocol != "" {
			if p := protocols[d.Protocol]; p != nil {
				r.p = p
			} else {
				r.protocolKnown = false
			}
		}
		if len(d.Stakes) > 0 {
			r.checks, _, _ = rates.FromStakes(d, r.p.CountsAsConsumed...)
		}
		r.lost, r.lostNote = rates.Lost(r.withChecks())
		j.rows[i] = r
	}
}

// withChecks is the deployment with the counts that stake-level fates say.
func (r *row) withChecks() *assay.Deployment {
	if len(r.d.Stakes) == 0 {
		return r.d
	}
	d := *r.d
	d.Checks = r.checks
	return &d
}

// say adds a finding of the rule now at work.
func (r *row) say(h hit) {
	d := r.d
	at := d.Where
	at.Column = h.field
	if w, ok := d.ColumnsAsWritten[h.field]; ok && w != "" {
		at.Column = w
	}
	f := assay.Finding{
		Slug: r.j.rule.Slug, Severity: r.j.rule.Severity, DeploymentID: d.ID, Key: d.Key, Site: d.Site, Record: r.record(),
		Check: h.check, Field: h.field, Value: h.value, At: at, With: h.with, About: h.value,
	}
	if h.about != nil {
		f.About = values(h.about)
	}
	if f.Severity == assay.Ask && len(r.j.ctx.Answers) > 0 {
		if a, ok := r.j.ctx.Answers[KeyOf(f)]; ok && a.Fingerprint == Fingerprint(f) {
			f.Answered, f.Answer = true, a.Text
		}
	}
	r.j.keep(found{r.i, f})
}

// keep adds to what was found. A list of large things that grows is copied over
// and over: full pieces are put aside instead.
func (j *judging) keep(f found) {
	if len(j.found) == cap(j.found) {
		if j.found != nil {
			j.full = append(j.full, j.found)
		}
		j.found = make([]found, 0, min(1024, 16*(1+len(j.full))))
	}
	j.found = append(j.found, f)
}

// record is Record of the row, put together once.
func (r *row) record() string {
	if r.named == "" {
		r.named = Record(r.d)
	}
	return r.named
}

var weight = map[assay.Severity]int{assay.Block: 0, assay.Ask: 1, assay.Note: 2}

func (j *judging) sorted() []assay.Finding {
	var all []*found
	for _, piece := range append(j.full, j.found) {
		for k := range piece {
			all = append(all, &piece[k])
		}
	}
	slices.SortStableFunc(all, func(a, b *found) int {
		return cmp.Or(cmp.Compare(a.i, b.i), cmp.Compare(weight[a.Severity], weight[b.Severity]),
			cmp.Compare(a.Check, b.Check), strings.Compare(a.Slug, b.Slug), strings.Compare(a.Field, b.Field))
	})
	out := make([]assay.Finding, len(all))
	for i, f := range all {
		out[i] = f.Finding
	}
	return out
}

// Record names a record for its answers: its key in a logbook, else programme,
// team, season, site and identifier, within which an identifier is given once.
func Record(d *assay.Deployment) string {
	if d.Key != "" {
		return d.Key
	}
	return strings.Join([]string{d.Programme, d.Team, d.Season, d.Site, d.ID}, "\x1f")
}

// KeyOf is the key under which an answer to f is kept. No two findings about
// one record share it.
func KeyOf(f assay.Finding) AnswerKey {
	return AnswerKey{Record: f.Record, Slug: f.Slug, Check: f.Check, Field: f.Field}
}

// Fingerprint stands for the values that a finding is about: an answer given
// under one fingerprint is reused while it stays the same and falls away when
// one of the values changes.
//
// It is the first 16 bytes of the SHA-256 of slug, check, column and values, in
// hexadecimal. Tolerances are no part of it.
func Fingerprint(f assay.Finding) string {
	sum := sha256.Sum256([]byte(strings.Join([]string{f.Slug, strconv.Itoa(f.Check), f.Field, f.About}, "\x1f")))
	return hex.EncodeToString(sum[:16])
}

// values writes values as one text, each in one way only.
func values(list []any) string {
	var b strings.Builder
	for i, v := range list {
		if i > 0 {
			b.WriteByte('|')
		}
		switch x := v.(type) {
		case float64:
			b.WriteString(sheet.FormatNumber(x))
		case assay.Moment:
			b.WriteString(sheet.FormatMoment(x))
		case time.Time:
			b.WriteString(x.UTC().Format(time.RFC3339Nano))
		case string:
			b.WriteString(strconv.Quote(x))
		default:
			fmt.Fprint(&b, x)
		}
	}
	return b.String()
}
