package logbook

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"time"
)

// Source is an original file that records came from.
type Source struct {
	ID    string // SHA-256 of its bytes, 64 lower-case hexadecimal digits
	Name  string // as it was called
	Bytes int64  // its length
	Who   string // who took it in
	When  time.Time
	// Redacted is set when its bytes were replaced on request; ID and Bytes
	// stay those of the original.
	Redacted *Redaction
}

// maxSourceBytes bounds one original: far above any datasheet, below what
// SQLite keeps in one value (1e9 bytes).
const maxSourceBytes = 256 << 20

// AddSource keeps an original file. The same bytes are kept once: known is true
// when they are there already, under whatever name, and nothing is changed.
func (tx *Tx) AddSource(name string, content []byte, s Stamp) (src Source, known bool, err error) {
	if err := s.check(); err != nil {
		return Source{}, false, err
	}
	if err := checkText("name", name, 4*maxNameBytes); err != nil {
		return Source{}, false, err
	}
	if len(content) > maxSourceBytes {
		return Source{}, false, newError(SlugTooLarge, nil, "file", name, "bytes", len(content), "most", maxSourceBytes)
	}
	hash := hashOf(content)
	if src, known, err = tx.source(hash); err != nil || known {
		return src, known, err
	}
	src = Source{ID: hash, Name: name, Bytes: int64(len(content)), Who: s.Who, When: s.When.UTC().Truncate(msPrecision)}
	return src, false, tx.writeSource(src, hash, content)
}

func (tx *Tx) writeSource(src Source, contentHash string, content []byte) error {
	if content == nil {
		content = []byte{}
	}
	return tx.exec(`insert into source (id, name, bytes, at, who, original, original_hash) values ($1, $2, $3, $4, $5, $6, $7)`,
		src.ID, src.Name, src.Bytes, formatInstant(src.When), src.Who, content, contentHash)
}

func hashOf(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}

const selectSource = `select s.id, s.name, s.bytes, s.at, s.who, r.id, r.at, r.who, r.why, r.hash
	from source s left join redaction r on r.source = s.id`

func scanSource(scan func(...any) error) (src Source, err error) {
	var at string
	var red [5]sql.NullString
	err = scan(&src.ID, &src.Name, &src.Bytes, &at, &src.Who, &red[0], &red[1], &red[2], &red[3], &red[4])
	if err != nil {
		return src, err
	}
	if src.When, err = parseInstant(at); err != nil {
		return src, newError(SlugContentUnreadable, err, "what", "source")
	}
	if red[0].Valid {
		r := Redaction{ID: red[0].String, Source: src.ID, Who: red[2].String, Why: red[3].String, Hash: red[4].String}
		if r.When, err = parseInstant(red[1].String); err != nil {
			return src, newError(SlugContentUnreadable, err, "what", "redaction")
		}
		src.Redacted = &r
	}
	return src, nil
}

func (tx *Tx) source(id string) (src Source, found bool, err error) {
	err = tx.rows(selectSource+` where s.id = $1`, []any{id}, func(scan func(...any) error) error {
		found = true
		src, err = scanSource(scan)
		return err
	})
	return src, found, err
}

// Source returns what is known of an original; SlugNoSource when there is none.
func (tx *Tx) Source(id string) (Source, error) {
	src, found, err := tx.source(id)
	if err == nil && !found {
		err = newError(SlugNoSource, nil, "source", id)
	}
	return src, err
}

// Original returns an original's bytes, or what stands for them after redaction.
func (tx *Tx) Original(id string) ([]byte, error) {
	var content []byte
	found, err := tx.row(`select original from source where id = $1`, []any{id}, &content)
	if err == nil && !found {
		err = newError(SlugNoSource, nil, "source", id)
	}
	return content, err
}

// Sources lists the originals in the order in which they were taken in.
func (tx *Tx) Sources() ([]Source, error) {
	var all []Source
	err := tx.rows(selectSource+` order by s.at, s.id`, nil, func(scan func(...any) error) error {
		src, err := scanSource(scan)
		all = append(all, src)
		return err
	})
	return all, err
}

// Alias is what a record was called in a file: a corrected copy of the file is
// matched by it, since its bytes differ and its records have our keys only
// here.
type Alias struct {
	Record  string // key
	Source  string // name of the file, with its sheet where it has sheets
	Earlier string // identifier as the file has it; may be empty
	Line    int
}

// AddAlias keeps what a record was called; the same again changes nothing.
func (tx *Tx) AddAlias(a Alias) error {
	if err := checkText("source", a.Source, 4*maxNameBytes); err != nil {
		return err
	}
	if err := checkText("earlier", a.Earlier, maxTextBytes); err != nil {
		return err
	}
	if a.Line < 0 {
		return newError(SlugStampLine, nil, "line", a.Line)
	}
	var kind string
	found, err := tx.row(`select kind from record where key = $1`, []any{a.Record}, &kind)
	if err == nil && !found {
		err = newError(SlugNoRecord, nil, "key", a.Record)
	}
	if err != nil {
		return err
	}
	return tx.exec(`insert into alias (record, source_name, earlier, line) values ($1, $2, $3, $4) on conflict do nothing`,
		a.Record, a.Source, a.Earlier, int64(a.Line))
}

// Aliases lists what a record was called.
func (tx *Tx) Aliases(key string) ([]Alias, error) {
	return tx.aliases(`where record = $1`, key)
}

// FindAliases lists the records that a file of this name called earlier, or
// had in any line when earlier is empty.
func (tx *Tx) FindAliases(source, earlier string) ([]Alias, error) {
	if earlier == "" {
		return tx.aliases(`where source_name = $1`, source)
	}
	return tx.aliases(`where source_name = $1 and earlier = $2`, source, earlier)
}

func (tx *Tx) aliases(where string, args ...any) ([]Alias, error) {
	var all []Alias
	err := tx.rows(`select record, source_name, earlier, line from alias `+where+
		` order by source_name, line, earlier, record`, args, func(scan func(...any) error) error {
		var a Alias
		err := scan(&a.Record, &a.Source, &a.Earlier, &a.Line)
		all = append(all, a)
		return err
	})
	return all, err
}
