package main

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	_ "modernc.org/sqlite" // the SQL engine

	"ductward/internal/reading"
)

// sqlEngine keeps readings in rows of (channel, time, value), clustered by channel and time, in a database with a
// write-ahead log that is synced at each commit: as durable as the store. With rolls it also keeps sums by minute, hour
// and day, added to in the same transaction.
type sqlEngine struct {
	db    *sql.DB
	raw   bool
	rolls bool
	zero  time.Time // civil time of monotonic zero
	ids   map[string]int64
	batch []any // channel, time in ms, value of each reading that is not written
	sums  map[sumKey]*sum
}

type sumKey struct {
	level   int
	channel int64
	slot    int64 // ms of its beginning
}

type sum struct {
	n            int64
	low, high, s float64
}

var sqlLevels = [3]struct {
	table string
	ms    int64
}{{"minutes", 60_000}, {"hours", 3_600_000}, {"days", 86_400_000}}

func sqlFile(dir string) string { return filepath.Join(dir, "rows.sqlite") }

// openSQL opens a database; relaxed suspends its promises while a long record is made.
func openSQL(dir string, raw, rolls, relaxed bool) (*sqlEngine, error) {
	sync := "FULL"
	if relaxed {
		sync = "OFF"
	}
	db, err := sql.Open("sqlite", "file:"+sqlFile(dir)+"?_pragma=journal_mode(WAL)&_pragma=synchronous("+sync+")")
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	e := &sqlEngine{db: db, raw: raw, rolls: rolls, zero: beginning, ids: map[string]int64{}, sums: map[sumKey]*sum{}}
	tables := []string{"CREATE TABLE IF NOT EXISTS raw (channel INTEGER, t INTEGER, v REAL, PRIMARY KEY (channel, t)) WITHOUT ROWID"}
	for _, l := range sqlLevels {
		tables = append(tables, "CREATE TABLE IF NOT EXISTS "+l.table+
			" (channel INTEGER, t INTEGER, n INTEGER, low REAL, high REAL, s REAL, PRIMARY KEY (channel, t)) WITHOUT ROWID")
	}
	for _, t := range tables {
		if _, err := db.Exec(t); err != nil {
			return nil, fmt.Errorf("%s: %w", t, err)
		}
	}
	return e, nil
}

func (e *sqlEngine) id(channel string) int64 {
	id, ok := e.ids[channel]
	if !ok {
		id = int64(len(e.ids))
		e.ids[channel] = id
	}
	return id
}

func (e *sqlEngine) append(rs []reading.Reading) error {
	base := e.zero.UnixMilli()
	for i := range rs {
		id, ms := e.id(rs[i].Channel), base+rs[i].Mono.Milliseconds()
		if e.raw {
			e.batch = append(e.batch, id, ms, rs[i].Value)
		}
		if e.rolls {
			e.add(id, ms, rs[i].Value)
		}
	}
	return nil
}

func (e *sqlEngine) add(id, ms int64, v float64) {
	for level, l := range sqlLevels {
		key := sumKey{level, id, ms / l.ms * l.ms}
		if s := e.sums[key]; s != nil {
			s.n, s.low, s.high, s.s = s.n+1, min(s.low, v), max(s.high, v), s.s+v
		} else {
			e.sums[key] = &sum{1, v, v, v}
		}
	}
}

// rowsAtOnce is how many rows one statement inserts: far fewer calls, and so faster than one a row.
const rowsAtOnce = 80

func (e *sqlEngine) commit() error {
	tx, err := e.db.Begin()
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // says that it is over after a commit
	for rest := e.batch; len(rest) > 0; {
		n := min(len(rest)/3, rowsAtOnce)
		query := "INSERT INTO raw VALUES " + strings.Repeat("(?,?,?),", n-1) + "(?,?,?)"
		if _, err := tx.Exec(query, rest[:3*n]...); err != nil {
			return err
		}
		rest = rest[3*n:]
	}
	for key, s := range e.sums {
		_, err := tx.Exec("INSERT INTO "+sqlLevels[key.level].table+" VALUES (?,?,?,?,?,?) ON CONFLICT DO UPDATE SET "+
			"n = n+excluded.n, low = min(low, excluded.low), high = max(high, excluded.high), s = s+excluded.s",
			key.channel, key.slot, s.n, s.low, s.high, s.s)
		if err != nil {
			return err
		}
	}
	e.batch = e.batch[:0]
	clear(e.sums)
	return tx.Commit()
}

// chart takes the coarsest roll-up that gives a value a bucket, or raw rows.
func (e *sqlEngine) chart(channel string, from, to time.Time, n int) (filled int, err error) {
	columns, table := "min(v), avg(v), max(v), count(*)", "raw"
	if e.rolls {
		for _, l := range sqlLevels {
			if l.ms <= to.Sub(from).Milliseconds()/int64(n) {
				columns, table = "min(low), sum(s)/sum(n), max(high), sum(n)", l.table
			}
		}
	}
	rows, err := e.db.Query("SELECT (t-?)*?/? AS bucket, "+columns+" FROM "+table+
		" WHERE channel=? AND t>=? AND t<? GROUP BY bucket",
		from.UnixMilli(), n, to.Sub(from).Milliseconds(), e.id(channel), from.UnixMilli(), to.UnixMilli())
	if err != nil {
		return 0, err
	}
	defer func() { _ = rows.Close() }() // nothing was written
	for rows.Next() {
		var bucket, count int64
		var low, mean, high float64
		if err := rows.Scan(&bucket, &low, &mean, &high, &count); err != nil {
			return filled, err
		}
		filled++
	}
	return filled, rows.Err()
}

func (e *sqlEngine) close() error {
	if _, err := e.db.Exec("PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		return err
	}
	return e.db.Close()
}
