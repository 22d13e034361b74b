package logbook

import (
	"context"
	"database/sql"
	"errors"

	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/database"
)

// Version tells which migration the tables of a logbook are at, 0 before the
// first. It only reads; a database that is no logbook gives an error.
func Version(ctx context.Context, db *sql.DB) (int64, error) {
	var v int64
	err := db.QueryRowContext(ctx, `select coalesce(max(version), 0) from schema_version`).Scan(&v)
	return v, err
}

// Newest tells the newest migration this program has for a dialect.
func Newest(db *sql.DB, d Dialect) (int64, error) {
	p, err := provider(db, d)
	if err != nil {
		return 0, err
	}
	all := p.ListSources()
	return all[len(all)-1].Version, nil
}

// Migrate brings the tables up to a version, 0 for the newest; each migration
// is one transaction.
func Migrate(ctx context.Context, db *sql.DB, d Dialect, to int64) error {
	p, err := provider(db, d)
	if err != nil {
		return err
	}
	if to == 0 {
		_, err = p.Up(ctx)
	} else {
		_, err = p.UpTo(ctx, to)
	}
	if err != nil {
		return explainBy(d, err)
	}
	return nil
}

func provider(db *sql.DB, d Dialect) (*goose.Provider, error) {
	return goose.NewProvider(goose.DialectCustom, db, d.Migrations,
		goose.WithStore(versionTable{}), goose.WithDisableGlobalRegistry(true), goose.WithLogger(goose.NopLogger()))
}

// versionTable keeps the migrations that were run. It is one text for every
// dialect and holds no clock, so that a logbook made from a seed is the same
// bytes each time.
type versionTable struct{}

func (versionTable) Tablename() string { return "schema_version" }

func (versionTable) CreateVersionTable(ctx context.Context, db database.DBTxConn) error {
	_, err := db.ExecContext(ctx, `create table schema_version (version bigint primary key)`)
	return err
}

func (versionTable) Insert(ctx context.Context, db database.DBTxConn, r database.InsertRequest) error {
	_, err := db.ExecContext(ctx, `insert into schema_version (version) values ($1)`, r.Version)
	return err
}

func (versionTable) Delete(ctx context.Context, db database.DBTxConn, version int64) error {
	_, err := db.ExecContext(ctx, `delete from schema_version where version = $1`, version)
	return err
}

func (versionTable) GetMigration(ctx context.Context, db database.DBTxConn, version int64) (*database.GetMigrationResult, error) {
	var v int64
	err := db.QueryRowContext(ctx, `select version from schema_version where version = $1`, version).Scan(&v)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, database.ErrVersionNotFound
	}
	return &database.GetMigrationResult{IsApplied: true}, err
}

func (versionTable) GetLatestVersion(ctx context.Context, db database.DBTxConn) (int64, error) {
	var v sql.NullInt64
	err := db.QueryRowContext(ctx, `select max(version) from schema_version`).Scan(&v)
	if err == nil && !v.Valid {
		err = database.ErrVersionNotFound
	}
	return v.Int64, err
}

func (versionTable) ListMigrations(ctx context.Context, db database.DBTxConn) (all []*database.ListMigrationsResult, err error) {
	rows, err := db.QueryContext(ctx, `select version from schema_version order by version desc`)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var v int64
		if err := rows.Scan(&v); err != nil {
			return nil, err
		}
		all = append(all, &database.ListMigrationsResult{Version: v, IsApplied: true})
	}
	return all, rows.Err()
}
