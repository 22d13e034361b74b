package task

import (
	"context"
	"sort"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/sheet"
)

// Entry is one deployment as a logbook holds it.
type Entry struct {
	Record     logbook.Record
	Deployment assay.Deployment
	Faults     []*sheet.Fault // texts that no longer read; none in a whole logbook
}

func entryOf(r logbook.Record) Entry {
	d, faults := sheet.Deployment(r.Fields)
	d.Key = r.Key
	return Entry{Record: r, Deployment: d, Faults: faults}
}

// FaultyValues is a set of given values that cannot be read.
type FaultyValues struct{ Faults []*sheet.Fault }

func (f *FaultyValues) Error() string { return "values that cannot be read" }

// Added is a deployment just made.
type Added struct{ Key, ID string }

// Add makes a deployment from canonical values by column name. Without an
// identifier it is given the next free one.
func Add(ctx context.Context, book *logbook.Book, values map[string]string, by By) (added Added, err error) {
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		added, err = addIn(tx, values, by)
		return err
	})
	return added, err
}

// addIn is Add inside a change that does more.
func addIn(tx *logbook.Tx, values map[string]string, by By) (Added, error) {
	s, err := SettingsOf(tx)
	if err != nil {
		return Added{}, err
	}
	v := trimmed(values)
	fillFrom(v, s)
	if v["deployment_id"] == "" {
		if v["deployment_id"], err = freeID(tx, "R"); err != nil {
			return Added{}, err
		}
	}
	if _, faults := sheet.Deployment(v); len(faults) > 0 {
		return Added{}, &FaultyValues{faults}
	}
	rev, err := tx.Put(logbook.Record{Kind: kindDeployment, Fields: v}, by.stamp())
	return Added{rev.Record, v["deployment_id"]}, err
}

// fillFrom gives a record the logbook's programme and team where it has none.
func fillFrom(v map[string]string, s Settings) {
	if v["programme"] == "" && s.Programme != "" {
		v["programme"] = s.Programme
	}
	if v["team"] == "" && s.Team != "" {
		v["team"] = s.Team
	}
}

func trimmed(values map[string]string) map[string]string {
	v := map[string]string{}
	for name, text := range values {
		if text = strings.TrimSpace(text); text != "" {
			v[strings.TrimSpace(name)] = text
		}
	}
	return v
}

// freeID is the first of R1, R2, … that no deployment has, live or withdrawn:
// an identifier is given once.
func freeID(tx *logbook.Tx, letter string) (string, error) {
	taken := map[string]bool{}
	for r, err := range tx.Records(kindDeployment) {
		if err != nil {
			return "", err
		}
		taken[r.Fields["deployment_id"]] = true
	}
	for n := len(taken) + 1; ; n++ {
		if id := letter + itoa(n); !taken[id] {
			return id, nil
		}
	}
}

// FindEntries lists the deployments that a person means by id: the record with
// this key, or all with this deployment_id.
func FindEntries(tx *logbook.Tx, id string) ([]Entry, error) {
	var found []Entry
	for r, err := range tx.Records(kindDeployment) {
		if err != nil {
			return nil, err
		}
		if r.Key == id || r.Fields["deployment_id"] == id {
			found = append(found, entryOf(r))
		}
	}
	return found, nil
}

// one is the single deployment that a person means by id.
func one(tx *logbook.Tx, id string, withdrawn bool) (Entry, error) {
	all, err := FindEntries(tx, id)
	if err != nil {
		return Entry{}, err
	}
	var fit []Entry
	for _, e := range all {
		if (e.Record.State == logbook.Withdrawn) == withdrawn {
			fit = append(fit, e)
		}
	}
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(fit) > 1:
		var keys []string
		for _, e := range fit {
			keys = append(keys, e.Record.Key+" ("+e.Deployment.Team+", "+e.Deployment.Season+", "+e.Deployment.Site+")")
		}
		sort.Strings(keys)
		return Entry{}, refuse("id-of-several", "id", id, "keys", keys)
	case len(all) > 0 && !withdrawn:
		return Entry{}, refuse("is-withdrawn", "id", id)
	case len(all) > 0:
		return Entry{}, refuse("not-withdrawn", "id", id)
	}
	return Entry{}, refuse("no-deployment", "id", id)
}

// Correct changes fields of one deployment; an empty text takes a field away.
// A reason is needed, since the revision is what others will read.
func Correct(ctx context.Context, book *logbook.Book, id string, to map[string]string, by By) (rev logbook.Revision, err error) {
	if strings.TrimSpace(by.Why) == "" {
		return rev, refuse("why-missing")
	}
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		rev, err = correctIn(tx, id, to, by)
		return err
	})
	return rev, err
}

// correctIn is Correct inside a change that does more.
func correctIn(tx *logbook.Tx, id string, to map[string]string, by By) (rev logbook.Revision, err error) {
	e, err := one(tx, id, false)
	if err != nil {
		return rev, err
	}
	merged := map[string]string{}
	for k, v := range e.Record.Fields {
		merged[k] = v
	}
	clean := map[string]string{}
	for k, v := range to {
		k = strings.TrimSpace(k)
		_, known := merged[k]
		if _, _, ok := sheet.Find(sheet.Wide, k); !ok && !known {
			return rev, refuse("no-field", "field", k)
		}
		clean[k] = strings.TrimSpace(v)
		merged[k] = clean[k]
	}
	if _, faults := sheet.Deployment(merged); len(faults) > 0 {
		return rev, &FaultyValues{faults}
	}
	return tx.Correct(e.Record.Key, clean, by.stamp())
}

// Withdraw takes one deployment out of every result, with its reason; it stays
// in the logbook. Reinstate takes that back.
func Withdraw(ctx context.Context, book *logbook.Book, id string, by By) error {
	return withReason(ctx, book, id, by, false, (*logbook.Tx).Withdraw)
}

// Reinstate brings a withdrawn deployment back.
func Reinstate(ctx context.Context, book *logbook.Book, id string, by By) error {
	return withReason(ctx, book, id, by, true, (*logbook.Tx).Reinstate)
}

func withReason(ctx context.Context, book *logbook.Book, id string, by By, withdrawn bool,
	do func(*logbook.Tx, string, logbook.Stamp) (logbook.Revision, error)) error {
	if strings.TrimSpace(by.Why) == "" {
		return refuse("why-missing")
	}
	return book.Change(ctx, func(tx *logbook.Tx) error {
		e, err := one(tx, id, withdrawn)
		if err != nil {
			return err
		}
		_, err = do(tx, e.Record.Key, by.stamp())
		return err
	})
}

// Undo takes back the last change of the record with this key.
func Undo(ctx context.Context, book *logbook.Book, key string, by By) error {
	return book.Change(ctx, func(tx *logbook.Tx) error {
		_, err := tx.Undo(key, by.stamp())
		return err
	})
}

// History is one deployment with all its revisions.
func History(ctx context.Context, book *logbook.Book, id string) (e Entry, revisions []logbook.Revision, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		found, err := FindEntries(tx, id)
		if err != nil {
			return err
		}
		if len(found) == 0 {
			return refuse("no-deployment", "id", id)
		}
		e = found[0]
		revisions, err = tx.History(e.Record.Key)
		return err
	})
	return e, revisions, err
}
