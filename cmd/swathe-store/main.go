// Command swathe-store talks to an object store for swathe, which starts it: it
// reads requests from its standard input and answers them on its standard output,
// a line of JSON each (cmd/internal/store). It is a program of its own because
// what it links would double the time that swathe takes to start.
package main

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"time"

	"gocloud.dev/blob"
	_ "gocloud.dev/blob/fileblob" // file://
	_ "gocloud.dev/blob/s3blob"   // s3://

	"swathe/cmd/internal/store"
)

func main() {
	if len(os.Args) > 1 {
		fmt.Fprintln(os.Stderr, "swathe-store is started by swathe, which names an object store to it; see: swathe help queue")
		os.Exit(2)
	}
	if err := serve(os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "swathe-store:", err)
		os.Exit(1)
	}
}

// serve answers requests until there are none.
func serve(in io.Reader, out io.Writer) error {
	var b *blob.Bucket
	defer func() {
		if b != nil {
			b.Close()
		}
	}()
	lines, answers := bufio.NewScanner(in), json.NewEncoder(out)
	for lines.Scan() {
		var q store.Request
		if err := json.Unmarshal(lines.Bytes(), &q); err != nil {
			return err
		}
		var r store.Reply
		var err error
		switch {
		case q.Do == "open" && b == nil:
			b, err = open(q.URL)
		case b == nil:
			err = errors.New("no store is open")
		default:
			r, err = answer(b, q)
		}
		if err != nil {
			r.Error, r.Missing = explain(q, err)
		}
		if err := answers.Encode(r); err != nil {
			return err
		}
	}
	return lines.Err()
}

// open opens a store. A folder gets no files but the objects, and temporary ones
// beside them, so that an object appears whole on any file system.
func open(address string) (*blob.Bucket, error) {
	u, err := url.Parse(address)
	if err != nil {
		return nil, err
	}
	if u.Scheme == "file" {
		q := u.Query()
		q.Set("no_tmp_dir", "true")
		q.Set("metadata", "skip")
		u.RawQuery = q.Encode()
	}
	return blob.OpenBucket(context.Background(), u.String())
}

// patience is how long a transfer may stand still.
const patience = time.Minute

// moving passes bytes on and ends the work on them when none come for long.
type moving struct {
	io.Reader
	rest *time.Timer
}

func (m moving) Read(p []byte) (int, error) {
	n, err := m.Reader.Read(p)
	m.rest.Reset(patience)
	return n, err
}

func answer(b *blob.Bucket, q store.Request) (r store.Reply, err error) {
	ctx, cancel := context.WithCancelCause(context.Background())
	defer cancel(nil)
	rest := time.AfterFunc(patience, func() { cancel(errStill) })
	defer rest.Stop()
	defer func() {
		if err != nil && context.Cause(ctx) == errStill {
			err = errStill
		}
	}()
	switch q.Do {
	case "get":
		r.SHA256, err = get(ctx, b, q, rest)
	case "put":
		err = put(ctx, cancel, b, q, rest)
	case "stat":
		var a *blob.Attributes
		if a, err = b.Attributes(ctx, q.Key); err == nil {
			r.Objects = []store.Object{{Key: q.Key, Size: a.Size}}
		}
	case "list":
		it := b.List(&blob.ListOptions{Prefix: q.Key})
		for {
			o, err := it.Next(ctx)
			if errors.Is(err, io.EOF) {
				return r, nil
			} else if err != nil {
				return r, err
			}
			rest.Reset(patience)
			r.Objects = append(r.Objects, store.Object{Key: o.Key, Size: o.Size})
		}
	case "delete":
		err = b.Delete(ctx, q.Key)
	default:
		err = fmt.Errorf("%q can't be asked of a store", q.Do)
	}
	return r, err
}

// get writes an object into a file and returns its hash.
func get(ctx context.Context, b *blob.Bucket, q store.Request, rest *time.Timer) (string, error) {
	from, err := b.NewReader(ctx, q.Key, nil)
	if err != nil {
		return "", err
	}
	defer from.Close()
	to, err := os.Create(q.File)
	if err != nil {
		return "", localError{err}
	}
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(local{to}, sum), moving{from, rest})
	if cerr := to.Close(); err == nil && cerr != nil {
		err = localError{cerr}
	}
	if err == nil && n != from.Size() {
		err = io.ErrUnexpectedEOF
	}
	return hex.EncodeToString(sum.Sum(nil)), err
}

// put makes an object of a file, unless the content is not what it should be.
func put(ctx context.Context, cancel context.CancelCauseFunc, b *blob.Bucket, q store.Request, rest *time.Timer) error {
	from, err := os.Open(q.File)
	if err != nil {
		return localError{err}
	}
	defer from.Close()
	to, err := b.NewWriter(ctx, q.Key, &blob.WriterOptions{ContentType: "application/octet-stream"})
	if err != nil {
		return err
	}
	sum := sha256.New()
	if _, err = io.Copy(io.MultiWriter(to, sum), moving{from, rest}); err == nil && q.SHA256 != "" && hex.EncodeToString(sum.Sum(nil)) != q.SHA256 {
		err = errChanged
	}
	if err != nil {
		cancel(err) // so that closing makes no object
		_ = to.Close()
		return err
	}
	// What is left goes out with the closing, and says nothing while it does.
	rest.Reset(10 * patience)
	return to.Close()
}

// local marks what goes wrong on this machine's disk.
type local struct{ f *os.File }

func (l local) Write(p []byte) (int, error) {
	n, err := l.f.Write(p)
	if err != nil {
		err = localError{err}
	}
	return n, err
}

type localError struct{ error }

func (l localError) Unwrap() error { return l.error }
