package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"thrum/unit"
)

// tables are all tables that hold something to keep, parents before children.
// Export, Import, Check and Sweep work from this list and from the columns that
// the database has, so that a migration needs no second description here.
var tables = []string{
	"lathes", "materials", "parts", "plans", "pieces", "events",
	"questions", "trials", "samples", "sample_entries",
	"notes", "measurements", "files", "jobs", "job_results", "devices", "changes",
	"polls", "poll_photos", "poll_items", "votes", "poll_tallies",
}

// keyTable holds keys that an archive must not hold: once destroyed they are to be
// gone everywhere.
const keyTable = "poll_keys"

// blobTables have a column sha256 that names content.
var blobTables = []string{"files", "job_results", "poll_photos", "poll_items"}

// record is a row of any table by column name. Its values are string, int64,
// float64 or nil.
type record map[string]any

// line writes a record as one line of JSON; encoding/json sorts the names.
func (r record) line() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(r)
	return b.Bytes(), err
}

// eachRecord calls fn with every row of a table in the order of the ids.
func eachRecord(ctx context.Context, q querier, table string, fn func(record) error) error {
	rows, err := q.QueryContext(ctx, "SELECT * FROM "+table+" ORDER BY id")
	if err != nil {
		return err
	}
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		return err
	}
	values, places := make([]any, len(names)), make([]any, len(names))
	for i := range values {
		places[i] = &values[i]
	}
	last := ""
	for rows.Next() {
		if err := rows.Scan(places...); err != nil {
			return err
		}
		r := record{}
		for i, name := range names {
			r[name] = values[i]
		}
		id, _ := r["id"].(string)
		if id <= last { // a collation that puts ids in another order would make two exports differ
			return fmt.Errorf("table %s: the database sorts id %q after %q", table, id, last)
		}
		last = id
		if err := fn(r); err != nil {
			return err
		}
	}
	return rows.Err()
}

// kind is what a column holds.
type kind int

const (
	textColumn kind = iota
	wholeColumn
	floatColumn
)

// columnsOf gives the columns of a table in this database.
func columnsOf(ctx context.Context, q querier, table string) (map[string]kind, error) {
	rows, err := q.QueryContext(ctx, "SELECT * FROM "+table+" LIMIT 0")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	types, err := rows.ColumnTypes()
	if err != nil {
		return nil, err
	}
	columns := map[string]kind{}
	for _, c := range types {
		switch strings.ToUpper(c.DatabaseTypeName()) {
		case "TEXT":
			columns[c.Name()] = textColumn
		case "BIGINT", "INT8":
			columns[c.Name()] = wholeColumn
		case "DOUBLE PRECISION", "FLOAT8":
			columns[c.Name()] = floatColumn
		default:
			return nil, fmt.Errorf("table %s: column %s has the unforeseen type %s", table, c.Name(), c.DatabaseTypeName())
		}
	}
	return columns, rows.Err()
}

// parseRecord reads a line of an archive for a table with the given columns. A
// column that is absent keeps the default of the table.
func parseRecord(line []byte, columns map[string]kind) (record, error) {
	d := json.NewDecoder(bytes.NewReader(line))
	d.UseNumber()
	var raw map[string]any
	if err := d.Decode(&raw); err != nil {
		return nil, fmt.Errorf("is not a JSON object: %w", err)
	}
	r := record{}
	for name, v := range raw {
		k, ok := columns[name]
		if !ok {
			return nil, fmt.Errorf("has the unknown field %s", unit.Quote(name))
		}
		var err error
		switch v := v.(type) {
		case nil:
			r[name] = nil
			continue
		case string:
			if k == textColumn {
				r[name] = v
				continue
			}
		case json.Number:
			if k == wholeColumn {
				r[name], err = v.Int64()
			} else if k == floatColumn {
				r[name], err = v.Float64()
			} else {
				err = fmt.Errorf("is a number")
			}
			if err == nil {
				continue
			}
		}
		return nil, fmt.Errorf("has a wrong value in the field %s", name)
	}
	return r, nil
}

// insert writes a record into its table.
func (r record) insert(ctx context.Context, tx *sql.Tx, table string) error {
	names := make([]string, 0, len(r))
	for name := range r {
		names = append(names, name)
	}
	slices.Sort(names)
	places, args := make([]string, len(names)), make([]any, len(names))
	for i, name := range names {
		places[i], args[i] = fmt.Sprintf("$%d", i+1), r[name]
	}
	_, err := tx.ExecContext(ctx, "INSERT INTO "+table+" ("+strings.Join(names, ", ")+") VALUES ("+strings.Join(places, ", ")+")", args...)
	return err
}

// jsonColumns always hold JSON.
var jsonColumns = []string{"request", "result", "arguments", "design", "facts"}

// check tells what is wrong with a record by itself, or "".
func (r record) check() string {
	id, _ := r["id"].(string)
	if checkID("id", id) != nil {
		return "its id is not a UUID of version 7"
	}
	for _, column := range []string{"shop_id", "device_id"} {
		if key, _ := r[column].(string); checkKey(column, key) != nil {
			return "its " + column + " is not a short word"
		}
	}
	at, _ := r["created_at"].(string)
	if t, err := ParseTime(at); err != nil || FormatTime(t) != at {
		return "its created_at is not a time like " + timeLayout
	}
	for name, v := range r {
		s, ok := v.(string)
		if !ok {
			continue
		}
		if !utf8.ValidString(s) || strings.IndexByte(s, 0) >= 0 {
			return "its " + name + " is not UTF-8 text"
		}
		if name == "sha256" && s != "" && !isSHA256(s) {
			return "its sha256 is not one"
		}
		if slices.Contains(jsonColumns, name) && !json.Valid([]byte(s)) {
			return "its " + name + " is not JSON"
		}
	}
	return ""
}
