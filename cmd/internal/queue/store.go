package queue

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/riverqueue/river/rivertype"
	_ "modernc.org/sqlite" // the driver "sqlite"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/store"
)

// Names in the lab's results folder.
const (
	fileName = ".queue.sqlite"
	nameFile = ".queue-name"
)

// client is what is asked of River, the same for both databases.
type client interface {
	InsertMany(ctx context.Context, list []river.InsertManyParams) ([]*rivertype.JobInsertResult, error)
	JobCancel(ctx context.Context, id int64) (*rivertype.JobRow, error)
	QueuePause(ctx context.Context, name string, opts *river.QueuePauseOpts) error
	QueueResume(ctx context.Context, name string, opts *river.QueuePauseOpts) error
	Start(ctx context.Context) error
	Stop(ctx context.Context) error
	StopAndCancel(ctx context.Context) error
}

// Queue is an open queue of one lab.
type Queue struct {
	Dir    string       // the lab's folder
	Memory bool         // the queue ends with this process, for the lab's folder can hold none
	Store  *store.Store // see Share; what is put in goes there too; nil: all workers share the lab's folder
	lab    string       // name of the lab in the database
	name   string       // of River's queue: the lab and the analysis version
	db     *sql.DB
	pool   *pgxpool.Pool          // nil: SQLite
	putter atomic.Pointer[client] // puts in and takes out
}

func (q *Queue) put() client { return *q.putter.Load() }

// Open opens the queue of the lab in dir. An empty address is the lab's own file,
// made when it is missing; PostgreSQL must have been migrated (see Migrate).
func Open(ctx context.Context, dir, address string) (*Queue, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	name, err := labName(dir)
	if err != nil {
		return nil, err
	}
	return open(ctx, dir, name, address, fileIn(dir))
}

// OpenAnyhow opens the lab's own queue wherever it can: a file that is damaged is
// put aside, and where the folder can hold none, on a full disk or a share without
// locks, the queue is kept in memory. say tells of both.
func OpenAnyhow(ctx context.Context, dir string, say func(format string, args ...any)) (*Queue, error) {
	q, err := Open(ctx, dir, "")
	if err == nil || ctx.Err() != nil {
		return q, err
	}
	if dir, err = filepath.Abs(dir); err != nil {
		return nil, err
	}
	file := fileIn(dir)
	if _, serr := os.Stat(file); serr == nil && os.Rename(file, file+".damaged") == nil {
		for _, side := range []string{"-wal", "-shm"} {
			_ = os.Remove(file + side)
		}
		if q, err = Open(ctx, dir, ""); err == nil {
			say("The queue in results/%s could not be read and was put aside as %s.damaged. What was stopped before is measured again.", fileName, fileName)
			return q, nil
		}
	}
	q, merr := open(ctx, dir, "lab-here", "", "")
	if merr != nil {
		return nil, err
	}
	say("The queue can't be kept in results/ (%v); what is stopped, or asked for again, is forgotten when this program ends.", err)
	return q, nil
}

func fileIn(dir string) string { return filepath.Join(dir, "results", fileName) }

// open opens PostgreSQL, a file of SQLite, or without a file a queue in memory.
func open(ctx context.Context, dir, name, address, file string) (*Queue, error) {
	q := &Queue{Dir: dir, Memory: address == "" && file == "", lab: name, name: fmt.Sprintf("%s-%d", name, lab.AnalysisVersion)}
	err := q.connect(ctx, address, file)
	if err != nil {
		return nil, err
	}
	if q.pool == nil {
		// Of several programs that make the tables at once one wins; the others
		// find them made.
		err := q.migrate(ctx)
		for try := 1; err != nil && try < 6 && ctx.Err() == nil; try++ {
			time.Sleep(time.Duration(try) * 50 * time.Millisecond)
			err = q.migrate(ctx)
		}
		if err != nil {
			q.Close()
			return nil, fmt.Errorf("the queue in results/%s can't be used: %w. Delete it; it holds no results", fileName, err)
		}
	} else if _, err := q.db.ExecContext(ctx, "select 1 from swathe_held limit 1"); err != nil {
		q.Close()
		return nil, fmt.Errorf("the queue's database has no tables, or can't be read (%w). Make them once with: swathe queue migrate", err)
	}
	put, err := q.client(&river.Config{})
	if err != nil {
		q.Close()
		return nil, err
	}
	q.putter.Store(&put)
	return q, nil
}

// Migrate makes or renews the tables of a PostgreSQL database.
func Migrate(ctx context.Context, address string) error {
	if address == "" {
		return errors.New("only a PostgreSQL queue needs tables to be made: name it with --queue, or in SWATHE_QUEUE")
	}
	q := &Queue{}
	if err := q.connect(ctx, address, ""); err != nil {
		return err
	}
	defer q.Close()
	return q.migrate(ctx)
}

// Share has what is put in go to the store at an address too; Close closes it.
func (q *Queue) Share(ctx context.Context, address string) error {
	s, err := store.Open(ctx, address)
	if err != nil {
		return err
	}
	if err := s.Claim(ctx, q.lab); err != nil {
		s.Close()
		return err
	}
	q.Store = s
	return nil
}

// Close gives the database back.
func (q *Queue) Close() {
	if q.Store != nil {
		q.Store.Close()
	}
	if q.db != nil {
		q.db.Close()
	}
	if q.pool != nil {
		q.pool.Close()
	}
}

func (q *Queue) connect(ctx context.Context, address, file string) (err error) {
	if address != "" {
		c, err := pgxpool.ParseConfig(address)
		if err != nil {
			return errors.New("the queue's address is invalid; it should be postgres://USER@HOST/DATABASE")
		}
		c.ConnConfig.ConnectTimeout = 10 * time.Second
		// What a crash of the server would lose of the last half second is found
		// again from the lab's folder; waiting for the disk would cost most of a job.
		c.AfterConnect = func(ctx context.Context, conn *pgx.Conn) error {
			_, err := conn.Exec(ctx, "set synchronous_commit = off")
			return err
		}
		if q.pool, err = pgxpool.NewWithConfig(ctx, c); err != nil {
			return fmt.Errorf("the queue's database can't be reached: %w", err)
		}
		q.db = stdlib.OpenDBFromPool(q.pool)
		if err := q.pool.Ping(ctx); err != nil {
			q.Close()
			return fmt.Errorf("the queue's database can't be reached: %w", err)
		}
		return nil
	}
	at := "file::memory:?_txlock=immediate"
	if file != "" {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			return err
		}
		// Several programs of one machine may use the file: writers wait for one another.
		at = (&url.URL{Scheme: "file", Path: file}).String() + "?_pragma=busy_timeout(20000)&_pragma=journal_mode(WAL)&_pragma=synchronous(NORMAL)&_txlock=immediate"
	}
	q.db, err = sql.Open("sqlite", at)
	if err == nil {
		q.db.SetMaxOpenConns(1)
	}
	return err
}

// tables are our own beside River's: who works, on what, and what was done.
var tables = []string{
	`create table if not exists swathe_worker (id text primary key, queue text not null, host text not null, pid bigint not null,
		jobs bigint not null, draining bigint not null default 0, started double precision not null, seen double precision not null)`,
	`create table if not exists swathe_progress (job bigint primary key, worker text not null, run text not null,
		share double precision not null, doing text not null, at double precision not null)`,
	`create table if not exists swathe_outcome (queue text not null, run text not null, kind text not null, reason text not null, worker text not null,
		seconds double precision not null, at double precision not null)`,
	`create index if not exists swathe_outcome_at on swathe_outcome (queue, at)`,
	`create table if not exists swathe_held (lab text not null, run text not null, primary key (lab, run))`,
}

func (q *Queue) migrate(ctx context.Context) error {
	var err error
	if q.pool != nil {
		err = migrateWith(ctx, riverpgxv5.New(q.pool))
	} else {
		err = migrateWith(ctx, riversqlite.New(q.db))
	}
	for _, t := range tables {
		if err == nil {
			_, err = q.db.ExecContext(ctx, t)
		}
	}
	return err
}

func migrateWith[T any](ctx context.Context, d riverdriver.Driver[T]) error {
	m, err := rivermigrate.New(d, &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return err
	}
	_, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil)
	return err
}

func (q *Queue) client(c *river.Config) (client, error) {
	c.Logger = slog.New(slog.DiscardHandler) // its words name tables and addresses; ours name recordings
	if q.pool != nil {
		return river.NewClient(riverpgxv5.New(q.pool), c)
	}
	return river.NewClient(riversqlite.New(q.db), c)
}

// dialect turns the words in which the two databases differ: {now} is the
// database's clock in s, {age COLUMN} how long ago a time of River's was, s,
// {last} the worker that took a job last, $N a value.
func (q *Queue) dialect(query string) string {
	r := strings.NewReplacer("{now}", "extract(epoch from clock_timestamp())::double precision",
		"{age}", "extract(epoch from clock_timestamp() - attempted_at)",
		"{last}", "attempted_by[array_upper(attempted_by, 1)]",
		"{run}", "args->>'run'")
	if q.pool == nil {
		query = strings.ReplaceAll(query, "$", "?")
		r = strings.NewReplacer("{now}", "((julianday('now') - 2440587.5) * 86400.0)",
			"{age}", "((julianday('now') - julianday(attempted_at)) * 86400.0)",
			"{last}", "json_extract(attempted_by, '$[#-1]')",
			"{run}", "json_extract(args, '$.run')")
	}
	return r.Replace(query)
}

func (q *Queue) exec(ctx context.Context, query string, args ...any) (int64, error) {
	res, err := q.db.ExecContext(ctx, q.dialect(query), args...)
	if err != nil {
		return 0, err
	}
	return res.RowsAffected()
}

// query calls each for every row.
func (q *Queue) query(ctx context.Context, each func(*sql.Rows) error, query string, args ...any) error {
	rows, err := q.db.QueryContext(ctx, q.dialect(query), args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := each(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// labName returns the name by which a lab is known in a database that may hold
// those of others: made once, and kept in its results folder.
func labName(dir string) (string, error) {
	file := filepath.Join(dir, "results", nameFile)
	for {
		raw, err := os.ReadFile(file)
		if name := strings.TrimSpace(string(raw)); err == nil && name != "" {
			return name, nil
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("results/%s can't be read: %w", nameFile, err)
		}
		var b [6]byte
		if _, err := rand.Read(b[:]); err != nil {
			return "", err
		}
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			return "", err
		}
		// Of several that make it at once one wins, and all read what it wrote.
		tmp := fmt.Sprintf("%s.%s", file, hex.EncodeToString(b[:]))
		if err := os.WriteFile(tmp, []byte("lab-"+hex.EncodeToString(b[:])+"\n"), 0o644); err != nil {
			return "", err
		}
		err = os.Link(tmp, file)
		os.Remove(tmp)
		if err != nil && !errors.Is(err, fs.ErrExist) {
			return "", fmt.Errorf("results/%s can't be made: %w", nameFile, err)
		}
	}
}
