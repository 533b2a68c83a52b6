package store

import (
	"context"
	"database/sql"
	"embed"
	"io/fs"

	"github.com/pressly/goose/v3"

	"pawl/model/fault"
)

//go:embed migrations
var embedded embed.FS

// migrations holds a folder per engine; a test adds one of tomorrow.
var migrations fs.FS = embedded

// migrateUp runs every migration that the store lacks, each in a transaction.
func migrateUp(ctx context.Context, db *sql.DB, engine string) error {
	p, err := migrator(db, engine)
	if err != nil {
		return err
	}
	if _, err := p.Up(ctx); err != nil {
		return fault.New(fault.Internal, "the store could not be brought up to date; it is as it was").WithCause(err)
	}
	return nil
}

func migrator(db *sql.DB, engine string) (*goose.Provider, error) {
	folder, err := fs.Sub(migrations, "migrations/"+engine)
	if err != nil {
		return nil, err
	}
	dialect := goose.DialectSQLite3
	if engine == "postgres" {
		dialect = goose.DialectPostgres
	}
	return goose.NewProvider(dialect, db, folder, goose.WithDisableGlobalRegistry(true), goose.WithLogger(goose.NopLogger()))
}
