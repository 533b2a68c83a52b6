package store

import (
	"context"
	"database/sql"

	"gorm.io/gorm"
)

// Watch has every statement that a view or an act asks from now on told, with its values, before
// it is asked: so a test can hold how the engine goes about it, and that it asks no
// table through. It is called before the store is used, or not at all.
func (d *DB) Watch(tell func(query string, args []any)) { d.tell = tell }

// watched tells what goes through it.
type watched struct {
	gorm.ConnPool
	tell func(string, []any)
}

// QueryContext tells a query and asks it.
func (w watched) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	w.tell(query, args)
	return w.ConnPool.QueryContext(ctx, query, args...)
}

// watch is g, watched where somebody asked for that.
func (d *DB) watch(g *gorm.DB) *gorm.DB {
	if d.tell == nil {
		return g
	}
	g = g.Session(&gorm.Session{Context: background}) // a statement of its own: the transaction ends through the other
	g.Statement.ConnPool = watched{g.Statement.ConnPool, d.tell}
	return g
}
