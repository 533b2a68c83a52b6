// Command bareshop is what the start of the program and a single answer are held against:
// gin and SQLite and nothing else, doing the same on the same file. bareshop FILE show
// NUMBER prints a tool; bareshop FILE serve says where it listens and serves it.
package main

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"os"

	"github.com/gin-gonic/gin"
	_ "github.com/mattn/go-sqlite3"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "bareshop:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) < 2 {
		return fmt.Errorf("give FILE show NUMBER, or FILE serve")
	}
	db, err := sql.Open("sqlite3", "file:"+args[0]+"?_journal_mode=WAL&_synchronous=FULL&_foreign_keys=1")
	if err != nil {
		return err
	}
	defer db.Close()
	if args[1] == "show" && len(args) == 3 {
		tool, err := toolOf(db, args[2])
		if err != nil {
			return err
		}
		return json.NewEncoder(os.Stdout).Encode(tool)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	gin.SetMode(gin.ReleaseMode)
	routes := gin.New()
	routes.GET("/api/v1/tools/:number", func(c *gin.Context) {
		tool, err := toolOf(db, c.Param("number"))
		if err != nil {
			c.AbortWithStatus(http.StatusNotFound)
			return
		}
		c.JSON(http.StatusOK, tool)
	})
	fmt.Fprintf(os.Stderr, "listening on http://%s\n", listener.Addr())
	return http.Serve(listener, routes)
}

// toolOf is the row of a tool, by the names of its columns.
func toolOf(db *sql.DB, number string) (map[string]any, error) {
	rows, err := db.Query("SELECT tools.* FROM numbers JOIN tools ON tools.id = numbers.tool WHERE numbers.id = ?", number)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	row, to := make([]any, len(names)), make([]any, len(names))
	for i := range row {
		to[i] = &row[i]
	}
	if !rows.Next() {
		return nil, fmt.Errorf("no tool has the number %s: %v", number, rows.Err())
	}
	if err := rows.Scan(to...); err != nil {
		return nil, err
	}
	out := map[string]any{}
	for i, name := range names {
		out[name] = row[i]
	}
	return out, nil
}
