package task

import (
	"context"
	"errors"
	"path/filepath"
	"strings"

	"soakline/internal/logbook"
	"soakline/internal/publish"
	"soakline/internal/words"
)

// takePublished puts rows that this program published into the logbook: their
// values to the letter, under the key they had where it is free.
func (im *importing) takePublished(ctx context.Context, rows []publish.Row) error {
	less, withdrawn := 0, 0
	for i := range rows {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := im.takeRow(&rows[i], &less, &withdrawn); err != nil {
			return err
		}
		if im.o.Progress != nil && (i%500 == 0 || i == len(rows)-1) {
			im.o.Progress(i+1, len(rows))
		}
	}
	if less > 0 {
		im.said = append(im.said, words.Message{Slug: "task.published-known", With: words.P{"n": less}})
	}
	if withdrawn > 0 {
		im.said = append(im.said, words.Message{Slug: "task.published-withdrawn", With: words.P{"n": withdrawn}})
	}
	return nil
}

// keyOf is the key of a logbook's record in an identifier of a publication.
func keyOf(event string) string {
	key, ok := strings.CutPrefix(event, "urn:uuid:")
	if !ok || !logbook.IsKey(key) {
		return ""
	}
	return key
}

func (im *importing) takeRow(row *publish.Row, less, withdrawn *int) error {
	v := row.Values
	written := v["deployment_id"]
	where := row.Where()
	name := filepath.Base(where.File)
	if where.Sheet != "" {
		name += " / " + where.Sheet
	}
	key, there, err := im.there(row)
	if err != nil {
		return err
	}
	if there != nil {
		if first, twice := im.touched[key]; twice {
			var skip bool
			if key, skip, err = im.twice(where, first, *there, v); err != nil || skip {
				return err
			}
			there = nil
		}
	}
	switch {
	case there == nil:
		if keyOf(row.Event) == "" {
			v["global_id"] = row.Event
		}
		if row.Licence != "" {
			v["licence"] = row.Licence
		}
		im.noteLists(v)
	case there.State == logbook.Withdrawn:
		*withdrawn++
		im.r.Same++
		return nil
	case row.Partial:
		// What is told of a sensitive place must not replace what is known of it.
		*less++
		im.r.Same++
		return nil
	default:
		// What a publication does not tell is not therefore gone.
		all := map[string]string{}
		for f, text := range there.Fields {
			all[f] = text
		}
		for f, text := range v {
			all[f] = text
		}
		v = all
	}
	return im.put(key, v, where, name, written)
}

// there finds the record that a published row is, by its key, its global
// identifier's holder or its identity; without one, key is the one it had.
func (im *importing) there(row *publish.Row) (key string, there *logbook.Record, err error) {
	key = keyOf(row.Event)
	if key != "" {
		r, err := im.tx.Record(key)
		var no *logbook.Error
		switch {
		case err == nil && r.Kind == kindDeployment:
			return key, &r, nil
		case err == nil:
			key = "" // of another kind: it keeps its own
		case !errors.As(err, &no) || no.Slug != logbook.SlugNoRecord:
			return "", nil, err
		}
	}
	r, found, err := im.identified(row.Values)
	if err != nil || !found {
		return key, nil, err
	}
	return r.Key, &r, nil
}

// sourceOf names the file that a table came out of: the file itself, or the
// package or archive it lay in.
func sourceOf(sources map[string]string, file string) string {
	for f := file; f != ""; {
		if _, ok := sources[f]; ok {
			return f
		}
		i := strings.LastIndexAny(f, "/-")
		if i < 0 {
			break
		}
		f = f[:i]
	}
	return file
}
