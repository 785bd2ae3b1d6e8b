package bench

import (
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	_ "modernc.org/sqlite" // the driver; pure Go

	"swathe/cmd/internal/lab"
)

// File is the name of the store in a lab's folder.
const File = "bench.sqlite"

// schemaVersion is raised when the tables change.
const schemaVersion = 1

const columnsSQL = `robot TEXT NOT NULL, sample TEXT NOT NULL, firmware TEXT NOT NULL, layout TEXT NOT NULL, phase TEXT NOT NULL, trial INTEGER NOT NULL,
	surface TEXT NOT NULL, pass INTEGER NOT NULL, quantity TEXT NOT NULL, value TEXT NOT NULL, unit TEXT NOT NULL, uncertainty TEXT NOT NULL,
	date TEXT NOT NULL, operator TEXT NOT NULL, note TEXT NOT NULL,
	value_si REAL NOT NULL, uncertainty_si REAL, entered TEXT NOT NULL`

const schema = `
CREATE TABLE reading (` + columnsSQL + `, UNIQUE (robot, sample, firmware, layout, phase, trial, surface, pass, quantity)) STRICT;
CREATE TABLE replaced (` + columnsSQL + `, replaced TEXT NOT NULL) STRICT;
CREATE INDEX reading_robot ON reading (robot);`

const columnNames = "robot, sample, firmware, layout, phase, trial, surface, pass, quantity, value, unit, uncertainty, date, operator, note"

// Store is a lab's readings. Close it.
type Store struct {
	l  *lab.Lab
	db *sql.DB
}

// Exists tells whether the lab has a store.
func Exists(l *lab.Lab) bool {
	_, err := os.Stat(filepath.Join(l.Dir, File))
	return err == nil
}

// Open opens the lab's store; a lab without one gets it with the first reading.
func Open(l *lab.Lab) (*Store, error) {
	file := filepath.Join(l.Dir, File)
	// Immediate: two programs that write wait for each other instead of failing
	// half-way. The journal is the ordinary one, so that the store is one file.
	u := url.URL{Scheme: "file", Path: file, RawQuery: "_txlock=immediate&_pragma=busy_timeout(10000)&_pragma=foreign_keys(1)"}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		return nil, fmt.Errorf("%s can't be opened: %w", File, err)
	}
	db.SetMaxOpenConns(1)
	s := &Store{l, db}
	if err := s.prepare(); err != nil {
		db.Close()
		return nil, err
	}
	return s, nil
}

func (s *Store) prepare() error {
	var version int
	if err := s.db.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
		return fmt.Errorf("%s can't be read: %w. If it is damaged, move it away and import the last CSV that was exported", File, err)
	}
	switch {
	case version == schemaVersion:
		return nil
	case version > schemaVersion:
		return fmt.Errorf("%s was written by a newer swathe (version %d, this one knows %d). Use that version, or export a CSV with it and import it here", File, version, schemaVersion)
	}
	tx, err := s.db.Begin()
	if err != nil {
		return writeError(err)
	}
	defer func() { _ = tx.Rollback() }() // after Commit it does nothing
	if _, err := tx.Exec(schema + fmt.Sprintf("PRAGMA user_version = %d;", schemaVersion)); err != nil {
		return writeError(err)
	}
	return writeError(tx.Commit())
}

func writeError(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s can't be written: %w. Check the free space and your permission to write there; nothing was changed", File, err)
}

// Close closes the store.
func (s *Store) Close() error { return s.db.Close() }

// All returns every reading, in the order of its key; robot empty: of all.
func (s *Store) All(robot string) ([]Reading, error) {
	rows, err := s.db.Query(`SELECT `+columnNames+` FROM reading WHERE ?1 = '' OR robot = ?1
		ORDER BY robot, sample, firmware, layout, phase, trial, surface, quantity, pass`, robot)
	if err != nil {
		return nil, fmt.Errorf("%s can't be read: %w", File, err)
	}
	defer rows.Close()
	var out []Reading
	for rows.Next() {
		var r Reading
		if err := rows.Scan(&r.Robot, &r.Sample, &r.Firmware, &r.Layout, &r.Phase, &r.Trial, &r.Surface, &r.Pass, &r.Quantity, &r.Value, &r.Unit, &r.Uncertainty, &r.Date, &r.Operator, &r.Note); err != nil {
			return nil, fmt.Errorf("%s can't be read: %w", File, err)
		}
		out = append(out, r)
	}
	return out, rows.Err()
}

// Taken says what came of readings that were put in.
type Taken struct {
	Added    int `json:"added"`
	Same     int `json:"same"`     // they stood there already, word for word
	Replaced int `json:"replaced"` // the older ones are kept in the table replaced
}

// Put takes readings in, all or none. One whose key is there with another value
// is refused, unless replace is set: then the older one moves into the table
// replaced. file names their origin in refusals.
func (s *Store) Put(file string, rs []Reading, replace bool) (Taken, error) {
	var t Taken
	r := &reader{l: s.l, qs: Quantities(s.l), file: file}
	tx, err := s.db.Begin()
	if err != nil {
		return t, writeError(err)
	}
	defer func() { _ = tx.Rollback() }()
	now := time.Now().UTC().Format(time.RFC3339)
	all, err := s.stored(tx)
	if err != nil {
		return t, err
	}
	seen := map[Key]int{}
	for _, x := range rs {
		if line, twice := seen[x.Key]; twice {
			r.refuse(x.line, "%s is already in line %d. Keep one; give a second weighing its own trial or pass number.", x.Key, line)
			continue
		}
		seen[x.Key] = x.line
		if old, there := all[x.Key]; there {
			if old.same(x) {
				t.Same++
				continue
			}
			if !replace {
				r.refuse(x.line, "%s was entered before as %s %s; this row has %s %s. Correct the row, give it its own trial number, or use --replace; the older reading is then kept aside.", x.Key, old.Value, old.Unit, x.Value, x.Unit)
				continue
			}
			if _, err := tx.Exec(`INSERT INTO replaced SELECT *, ? FROM reading WHERE `+keySQL, append([]any{now}, keyArgs(x.Key)...)...); err != nil {
				return t, writeError(err)
			}
			if _, err := tx.Exec(`DELETE FROM reading WHERE `+keySQL, keyArgs(x.Key)...); err != nil {
				return t, writeError(err)
			}
			t.Replaced++
		} else {
			t.Added++
		}
		if err := insert(tx, x, now); err != nil {
			return t, writeError(err)
		}
		all[x.Key] = x
	}
	var list []Reading
	for _, x := range all {
		list = append(list, x)
	}
	sortReadings(list)
	r.balance(list)
	if err := r.err(); err != nil {
		return Taken{}, err
	}
	return t, writeError(tx.Commit())
}

func (s *Store) stored(tx *sql.Tx) (map[Key]Reading, error) {
	rows, err := tx.Query(`SELECT ` + columnNames + ` FROM reading`)
	if err != nil {
		return nil, fmt.Errorf("%s can't be read: %w", File, err)
	}
	defer rows.Close()
	out := map[Key]Reading{}
	for rows.Next() {
		var r Reading
		if err := rows.Scan(&r.Robot, &r.Sample, &r.Firmware, &r.Layout, &r.Phase, &r.Trial, &r.Surface, &r.Pass, &r.Quantity, &r.Value, &r.Unit, &r.Uncertainty, &r.Date, &r.Operator, &r.Note); err != nil {
			return nil, fmt.Errorf("%s can't be read: %w", File, err)
		}
		out[r.Key] = r
	}
	return out, rows.Err()
}

const keySQL = `robot = ? AND sample = ? AND firmware = ? AND layout = ? AND phase = ? AND trial = ? AND surface = ? AND pass = ? AND quantity = ?`

func keyArgs(k Key) []any {
	return []any{k.Robot, k.Sample, k.Firmware, k.Layout, k.Phase, k.Trial, k.Surface, k.Pass, k.Quantity}
}

func insert(tx *sql.Tx, x Reading, now string) error {
	v, u := x.SI()
	var usi any
	if x.Uncertainty != "" {
		usi = u
	}
	_, err := tx.Exec(`INSERT INTO reading (`+columnNames+`, value_si, uncertainty_si, entered) VALUES (`+strings.Repeat("?, ", len(Columns)+2)+`?)`,
		append(keyArgs(x.Key), x.Value, x.Unit, x.Uncertainty, x.Date, x.Operator, x.Note, v, usi, now)...)
	return err
}

// same tells whether two readings say the same, word for word.
func (x Reading) same(y Reading) bool {
	x.line, y.line = 0, 0
	return x == y
}

// Load returns all readings of a lab; nil if it has no store.
func Load(l *lab.Lab, robot string) ([]Reading, error) {
	if !Exists(l) {
		return nil, nil
	}
	s, err := Open(l)
	if err != nil {
		return nil, err
	}
	defer s.Close()
	return s.All(robot)
}

// Enter takes one reading by the way that a CSV takes, so that it is held to the
// same rules.
func Enter(l *lab.Lab, r Reading, replace bool) (Taken, error) {
	const name = "the reading"
	alone := func(err error) error { // it is no line of a file
		if err == nil {
			return nil
		}
		return errors.New(strings.ReplaceAll(err.Error(), name+":2: ", ""))
	}
	var b strings.Builder
	if err := WriteCSV(&b, []Reading{r}); err != nil {
		return Taken{}, err
	}
	rs, err := ReadCSV(l, name, strings.NewReader(b.String()))
	if err != nil {
		return Taken{}, alone(err)
	}
	s, err := Open(l)
	if err != nil {
		return Taken{}, err
	}
	defer s.Close()
	t, err := s.Put(name, rs, replace)
	return t, alone(err)
}
