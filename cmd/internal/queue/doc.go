// Package queue shares the recordings that wait to be measured among workers, on
// one machine or many. One recording is one job.
//
// The queue itself is kept by River (github.com/riverqueue/river), in a database:
// an SQLite file in the lab's results folder, which needs nothing installed and
// serves one machine, or PostgreSQL, which serves many. What lies in the database
// can be lost without losing a figure: recordings and results are in the lab's
// folder, which every worker sees, and a job that is done twice finds its result
// up to date.
//
// Laws:
//   - A job is put in once: while it waits or is worked on, putting it in again
//     changes nothing but its turn.
//   - A worker says every Beat that it lives. What a worker held that has said
//     nothing for Lost goes back to those that wait. After Tries a recording is
//     measured by a process of its own, for whoever ends workers need not be the
//     recording; it is noted as failed only if it ends that one.
//   - A worker takes jobs of its own analysis version alone, for the queue's name
//     holds it: a worker of another version finds nothing to do, and is told.
//   - A job carries the hash of the set-up that it was put in with; a worker that
//     reads another one reads the folder anew, and what stands there then counts.
//   - What the user stopped is held, by the database, until it is asked for.
package queue

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"strings"
	"time"
)

// Options says how a worker works.
type Options struct {
	Jobs  int // recordings at once; 0 only looks on
	Tries int // times that a recording is begun before its workers' deaths are laid at its door
	// Apart measures a recording of the lab in dir by a process of its own; an error
	// says how that died. nil: after Tries a recording is noted as failed.
	Apart func(ctx context.Context, dir, run string, again bool, how How) error
	Beat  time.Duration // between signs of life
	Lost  time.Duration // without a sign of life a worker counts as lost
	Depot *Depot        // where files come from and go to; nil: the lab's folder
}

// DefaultOptions works on one recording at a time.
func DefaultOptions() Options {
	return Options{Jobs: 1, Tries: 5, Beat: 2 * time.Second, Lost: 15 * time.Second}
}

// Validate refuses what makes no sense.
func (o Options) Validate() error {
	switch {
	case o.Jobs < 0:
		return fmt.Errorf("%d jobs at once; it should be 0 or more", o.Jobs)
	case o.Tries < 1:
		return fmt.Errorf("%d tries; it should be 1 or more", o.Tries)
	case o.Beat <= 0 || o.Lost < 3*o.Beat:
		return errors.New("a worker should count as lost after three missed beats or more")
	}
	return nil
}

// Address reads the address of the database: as given; from the file behind
// "file:"; or, where nothing is given, from the environment's SWATHE_QUEUE. Empty
// is the lab's own file. An address holds a password, so none is ever printed.
func Address(given string) (string, error) {
	if given == "" {
		given = os.Getenv("SWATHE_QUEUE")
	}
	if name, ok := strings.CutPrefix(given, "file:"); ok {
		raw, err := os.ReadFile(name)
		if err != nil {
			return "", fmt.Errorf("the file that holds the queue's address can't be read: %w", err)
		}
		given = strings.TrimSpace(string(raw))
	}
	if given == "" {
		return "", nil
	}
	u, err := url.Parse(given)
	if err != nil || u.Scheme != "postgres" && u.Scheme != "postgresql" || u.Host == "" {
		return "", errors.New("the queue's address should be postgres://USER@HOST/DATABASE, or file:NAME of a file that holds it")
	}
	return given, nil
}
