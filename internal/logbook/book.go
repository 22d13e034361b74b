package logbook

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"io"
	"time"
)

// Notice is something a person should know about a logbook that opened.
type Notice struct {
	Slug   string
	Params map[string]any
}

// Options of NewBook.
type Options struct {
	Random   io.Reader // for keys; nil is the system's randomness
	ViewOnly bool      // Change is refused
	Notices  []Notice
	OnClose  func() error // runs after the database is closed
}

// Made says which program made a logbook, and when.
type Made struct {
	By string // program and version
	At time.Time
}

// Book is an open logbook. View and Change may be called from several
// goroutines. On SQLite they run one at a time: a View that stays open holds
// up a Change, and calling either inside the other waits until ctx ends.
type Book struct {
	db       *sql.DB
	dialect  Dialect
	id       string
	made     Made
	keys     *keyMaker
	viewOnly bool
	notices  []Notice
	onClose  func() error
}

// NewBook takes a database whose tables are made and current. It is called by
// the rooms that open one.
func NewBook(ctx context.Context, db *sql.DB, dialect Dialect, o Options) (*Book, error) {
	if o.Random == nil {
		o.Random = rand.Reader
	}
	b := &Book{db: db, dialect: dialect, keys: &keyMaker{random: o.Random},
		viewOnly: o.ViewOnly, notices: o.Notices, onClose: o.OnClose}
	var at string
	err := db.QueryRowContext(ctx, `select id, made_by, made_at from logbook`).Scan(&b.id, &b.made.By, &at)
	if err != nil {
		return nil, b.explain(err)
	}
	if b.made.At, err = parseInstant(at); err != nil {
		return nil, newError(SlugContentUnreadable, err, "what", "logbook")
	}
	return b, nil
}

// Found writes the line that makes an empty set of tables a logbook.
func Found(ctx context.Context, db *sql.DB, made Made, random io.Reader) error {
	if random == nil {
		random = rand.Reader
	}
	id, err := (&keyMaker{random: random}).next(made.At)
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, `insert into logbook (one, id, made_by, made_at) values (1, $1, $2, $3)`,
		id, made.By, formatInstant(made.At))
	return err
}

// ID of the logbook, given when it was made; a copy has the same.
func (b *Book) ID() string { return b.id }

// Made tells the program that made the logbook, and when.
func (b *Book) Made() Made { return b.made }

// ViewOnly tells whether the logbook was opened for looking only.
func (b *Book) ViewOnly() bool { return b.viewOnly }

// Notices are what a person should know about where the logbook lies.
func (b *Book) Notices() []Notice { return b.notices }

// Dialect of the database beneath.
func (b *Book) Dialect() Dialect { return b.dialect }

// DB is the database beneath, for the room that opened it.
func (b *Book) DB() *sql.DB { return b.db }

// Close ends the use of the logbook.
func (b *Book) Close() error {
	err := b.db.Close()
	if b.onClose != nil {
		err = errors.Join(err, b.onClose())
	}
	return err
}

// NewKey gives a key for a new record (see Record.Key).
func (b *Book) NewKey(when time.Time) (string, error) { return b.keys.next(when) }

// Tx is one look at a logbook, or one change of it, that holds together.
type Tx struct {
	ctx   context.Context
	book  *Book
	sql   *sql.Tx
	stmts map[string]*sql.Stmt
	write bool

	frozen Frozen // of At: only these revisions have happened

	source1 string // a source that is known to be there
}

// View runs look in a transaction that sees one state of the logbook.
func (b *Book) View(ctx context.Context, look func(*Tx) error) error {
	return b.run(ctx, look, false)
}

// Change runs change in one transaction: it is kept whole when change returns
// nil, and not at all otherwise.
func (b *Book) Change(ctx context.Context, change func(*Tx) error) error {
	if b.viewOnly {
		return newError(SlugViewOnly, nil)
	}
	return b.run(ctx, change, true)
}

func (b *Book) run(ctx context.Context, work func(*Tx) error, write bool) (err error) {
	sqlTx, err := b.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: !write})
	if err != nil {
		return b.explain(err)
	}
	tx := &Tx{ctx: ctx, book: b, sql: sqlTx, stmts: map[string]*sql.Stmt{}, write: write}
	ended := false
	defer func() {
		if !ended { // an error, or a panic on its way up
			err = errors.Join(err, b.explainRollback(sqlTx.Rollback()))
		}
	}()
	if err := work(tx); err != nil {
		return err
	}
	ended = true
	if !write {
		return b.explainRollback(sqlTx.Rollback())
	}
	return b.explain(sqlTx.Commit())
}

// explainRollback hides that a transaction had ended by itself, as it does on
// a full disk or when its context ends: the first error tells that.
func (b *Book) explainRollback(err error) error {
	if err == nil || errors.Is(err, sql.ErrTxDone) {
		return nil
	}
	if e := b.explain(err); SlugOf(e) != SlugDatabase {
		return e
	}
	return nil
}

// explain turns a driver's error into one that says what it means.
func (b *Book) explain(err error) error { return explainBy(b.dialect, err) }

func explainBy(d Dialect, err error) error {
	var known *Error
	switch {
	case err == nil, errors.As(err, &known), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	}
	if d.Explain != nil {
		if e := d.Explain(err); e != nil {
			return e
		}
	}
	if errors.Is(err, sql.ErrConnDone) || err.Error() == "sql: database is closed" {
		return newError(SlugClosed, err)
	}
	return newError(SlugDatabase, err)
}

// Context of the transaction.
func (tx *Tx) Context() context.Context { return tx.ctx }

// stmt prepares a query once in a transaction.
func (tx *Tx) stmt(query string) (*sql.Stmt, error) {
	if s := tx.stmts[query]; s != nil {
		return s, nil
	}
	s, err := tx.sql.PrepareContext(tx.ctx, query)
	if err != nil {
		return nil, tx.book.explain(err)
	}
	tx.stmts[query] = s // closed by the end of the transaction
	return s, nil
}

// exec runs a statement that changes the logbook.
func (tx *Tx) exec(query string, args ...any) error {
	if !tx.write {
		return newError(SlugViewOnly, nil)
	}
	s, err := tx.stmt(query)
	if err != nil {
		return err
	}
	_, err = s.ExecContext(tx.ctx, args...)
	return tx.book.explain(err)
}

// row asks for one line; found is false when there is none.
func (tx *Tx) row(query string, args []any, into ...any) (found bool, err error) {
	s, err := tx.stmt(query)
	if err != nil {
		return false, err
	}
	err = s.QueryRowContext(tx.ctx, args...).Scan(into...)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, tx.book.explain(err)
}

// rows asks for several lines and hands each to read.
func (tx *Tx) rows(query string, args []any, read func(scan func(...any) error) error) (err error) {
	s, err := tx.stmt(query)
	if err != nil {
		return err
	}
	lines, err := s.QueryContext(tx.ctx, args...)
	if err != nil {
		return tx.book.explain(err)
	}
	defer func() { err = errors.Join(err, tx.book.explain(lines.Close())) }()
	for lines.Next() {
		if err := read(lines.Scan); err != nil {
			return tx.book.explain(err)
		}
	}
	return tx.book.explain(lines.Err())
}
