package task

import (
	"context"
	"sort"
	"strconv"
	"strings"
	"time"

	"soakline/internal/logbook"
	"soakline/internal/sheet"
)

// Typed is a paper sheet as it was typed: canonical values by column. Columns
// are those that the form asked for; one without a value was left empty.
type Typed struct {
	Columns []string
	Values  map[string]string
	Stakes  bool // fates by stake
	// Beside are fields of the sheet that no column holds, kept with who typed them.
	Beside map[string]string
	// Head is the row's last revision when the form was filled; empty for a new row.
	Head string
}

// Typing is one time that a sheet was typed.
type Typing struct {
	N        int // 1 is the first
	Who      string
	When     time.Time
	Stakes   bool
	Unlike   int // fields unlike the record at that time; 0 for the first
	Taken    int // of these, how many were taken over
	SameName bool
}

// KeepTyped keeps a sheet: as a new row, or in the row with this key, with who
// typed what. The form showed what the row holds, so a field that comes back
// empty is taken away.
func KeepTyped(ctx context.Context, book *logbook.Book, key string, t Typed, by By) (added Added, err error) {
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		if key == "" {
			added, err = addIn(tx, t.Values, by)
		} else {
			added, err = keepInRow(tx, key, t, by)
		}
		if err != nil {
			return err
		}
		if err := linkScans(tx, added, by); err != nil {
			return err
		}
		return putTyping(tx, added.Key, t, 0, 0, by)
	})
	return added, err
}

func keepInRow(tx *logbook.Tx, key string, t Typed, by By) (Added, error) {
	e, err := one(tx, key, false)
	if err != nil {
		return Added{}, err
	}
	if e.Record.Head != t.Head {
		return Added{}, refuse("typed-changed", "id", e.Deployment.ID)
	}
	to := map[string]string{}
	for _, d := range unlike(e.Record.Fields, t) {
		to[d.Column] = d.Typed
	}
	if len(to) > 0 {
		_, err = correctIn(tx, key, to, by)
	}
	return Added{e.Record.Key, e.Deployment.ID}, err
}

// putTyping keeps who typed what.
func putTyping(tx *logbook.Tx, key string, t Typed, unlike, taken int, by By) error {
	before, err := Typings(tx, key)
	if err != nil {
		return err
	}
	n := len(before) + 1
	fields := map[string]string{"record": key, "n": itoa(n), "unlike": itoa(unlike), "taken": itoa(taken)}
	if t.Stakes {
		fields["stakes"] = "yes"
	}
	for _, c := range t.Columns {
		fields["typed."+c] = t.Values[c]
	}
	for name, text := range t.Beside {
		fields["typed."+name] = text
	}
	return putCode(tx, kindTyping, key+"/"+itoa(n), fields, by.stamp())
}

// Typings lists the times that a row's sheet was typed, the first one first.
func Typings(tx *logbook.Tx, key string) ([]Typing, error) {
	all, err := AllTypings(tx)
	return all[key], err
}

// AllTypings lists them for every row that has any, by its key.
func AllTypings(tx *logbook.Tx) (map[string][]Typing, error) {
	all := map[string][]Typing{}
	err := live(tx, kindTyping, func(r logbook.Record) error {
		history, err := tx.History(r.Key)
		if err != nil {
			return err
		}
		f := r.Fields
		t := Typing{N: number(f["n"]), Stakes: f["stakes"] == "yes", Unlike: number(f["unlike"]), Taken: number(f["taken"])}
		if len(history) > 0 {
			t.Who, t.When = history[0].Who, history[0].When
		}
		all[f["record"]] = append(all[f["record"]], t)
		return nil
	})
	for _, list := range all {
		sort.Slice(list, func(i, j int) bool { return list[i].N < list[j].N })
		for i := range list {
			for k := range i {
				list[i].SameName = list[i].SameName || list[i].Who == list[k].Who
			}
		}
	}
	return all, err
}

func number(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0
	}
	return n
}

// Unlike is one field in which a second typing says something else than the row.
type Unlike struct {
	Column      string
	Kept, Typed string // canonical; empty where nothing is written
	KeptBy      string // who wrote what is kept
	Name        string // for forms: the column
}

// CompareTyped lists the fields in which a sheet typed again differs from the
// row, each with who wrote what is kept; head is the row's last revision.
func CompareTyped(ctx context.Context, book *logbook.Book, key string, t Typed) (list []Unlike, head string, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		e, err := one(tx, key, false)
		if err != nil {
			return err
		}
		list, head = unlike(e.Record.Fields, t), e.Record.Head
		history, err := tx.History(e.Record.Key)
		if err != nil {
			return err
		}
		for i := range list {
			for _, rev := range history {
				if _, touched := rev.Changed[list[i].Column]; touched {
					list[i].KeptBy = rev.Who
				}
			}
		}
		return nil
	})
	return list, head, err
}

// unlike compares by what the texts mean: 36.950 is 36.95, and an instant is
// the same by whichever clock it is written.
func unlike(kept map[string]string, t Typed) []Unlike {
	was, is := meaning(kept), meaning(t.Values)
	var list []Unlike
	for _, c := range t.Columns {
		if was[c] != is[c] {
			list = append(list, Unlike{Column: c, Kept: kept[c], Typed: t.Values[c], Name: c})
		}
	}
	return list
}

// meaning puts values into one form each.
func meaning(values map[string]string) map[string]string {
	out := map[string]string{}
	for name, text := range values {
		c, _, ok := sheet.Find(sheet.Wide, name)
		switch {
		case !ok:
		case c.Kind == sheet.Instant, c.Kind == sheet.Depth && text != "datum":
			if m, f := sheet.ParseMoment(name, text); f == nil && m.Known() {
				text = m.At.UTC().Format(time.RFC3339)
			}
		case c.Kind == sheet.Number, c.Kind == sheet.Degrees:
			if x, f := sheet.ParseNumber(name, text); f == nil && x.Known() {
				text = sheet.FormatNumber(x.Or(0))
			}
		default:
			text = strings.Join(strings.Fields(text), " ")
		}
		out[name] = text
	}
	return out
}

// SettleTyped keeps a second typing, and in the row what was chosen: take holds
// the columns whose typed value replaces the kept one. When the row has changed
// since t.Head, nothing is kept.
func SettleTyped(ctx context.Context, book *logbook.Book, key string, t Typed, take []string, by By) error {
	return book.Change(ctx, func(tx *logbook.Tx) error {
		e, err := one(tx, key, false)
		if err != nil {
			return err
		}
		if e.Record.Head != t.Head {
			return refuse("typed-changed", "id", e.Deployment.ID)
		}
		differ := unlike(e.Record.Fields, t)
		to := map[string]string{}
		for _, d := range differ {
			if contains(take, d.Column) {
				to[d.Column] = d.Typed
			}
		}
		if len(to) > 0 {
			if _, err := correctIn(tx, key, to, by); err != nil {
				return err
			}
		}
		return putTyping(tx, e.Record.Key, t, len(differ), len(to), by)
	})
}
