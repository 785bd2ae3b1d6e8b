package store

import (
	"archive/zip"
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
)

// Keys of the store.
const (
	nameKey    = "lab"
	resultsKey = "results/"
)

func objectKey(sum string) string { return "objects/" + sum }

// Claim makes the store that of a lab, once; a store of another lab is refused.
func (s *Store) Claim(ctx context.Context, name string) error {
	was, err := s.Name(ctx)
	if err == nil && was != name {
		return errors.New("this store belongs to another lab. Give each lab a folder or a prefix of its own")
	}
	if !errors.Is(err, ErrMissing) {
		return err
	}
	tmp, err := os.CreateTemp("", "swathe-*")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name())
	_, err = io.WriteString(tmp, name+"\n")
	if err = errors.Join(err, tmp.Close()); err != nil {
		return err
	}
	return s.Put(ctx, nameKey, tmp.Name(), "")
}

// Name returns the name of the lab that the store belongs to.
func (s *Store) Name(ctx context.Context) (string, error) {
	dir, err := os.MkdirTemp("", "swathe-*")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "name")
	if _, err := s.Get(ctx, nameKey, file); err != nil {
		return "", err
	}
	raw, err := os.ReadFile(file)
	return strings.TrimSpace(string(raw)), err
}

// Send puts all that a run's measurement depends on into the store, as far as it is
// not there, and returns the list: the set-up with its robots, days and pictures of
// a board, the recording, its notes and the run sheet.
func (s *Store) Send(ctx context.Context, l *lab.Lab, item work.Item) ([]File, error) {
	names := []string{filepath.Join(l.Dir, lab.SetupFile)}
	for _, pattern := range []string{lab.DaysFile, lab.PlanFile, "robots/*.y*ml"} {
		found, err := filepath.Glob(filepath.Join(l.Dir, filepath.FromSlash(pattern)))
		if err != nil {
			return nil, err
		}
		names = append(names, found...)
	}
	for _, c := range l.Cameras {
		if c.Spec.Board != nil {
			names = append(names, c.Spec.Board.Pictures...)
		}
	}
	for _, f := range item.Files() {
		names = append(names, f)
		for _, beside := range []string{lab.NotesFile(f), filepath.Join(filepath.Dir(f), lab.RunSheet)} {
			if _, err := os.Stat(beside); err == nil {
				names = append(names, beside)
			}
		}
	}
	var out []File
	for _, name := range names {
		rel := l.Rel(name)
		if slices.ContainsFunc(out, func(f File) bool { return f.Path == rel }) {
			continue
		}
		if !filepath.IsLocal(filepath.FromSlash(rel)) {
			return nil, fmt.Errorf("%s lies outside the lab's folder, so workers without that folder can't have it. Copy it into the lab", name)
		}
		st, err := os.Stat(name)
		if err != nil {
			return nil, err
		}
		sum, err := l.Hash(name)
		if err != nil {
			return nil, err
		}
		f := File{Path: rel, Size: st.Size(), SHA256: sum}
		there, err := s.Has(ctx, objectKey(sum), f.Size)
		if err == nil && !there {
			err = s.Put(ctx, objectKey(sum), name, sum)
		}
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// Fetch makes a lab folder of the files of a job.
func (s *Store) Fetch(ctx context.Context, c *Cache, files []File, dir string) error {
	for _, f := range files {
		rel := filepath.FromSlash(f.Path)
		if !filepath.IsLocal(rel) || !isHash(f.SHA256) {
			return fmt.Errorf("the job names %q, which is not a file of a lab", f.Path)
		}
		if err := c.Fetch(ctx, s, f, filepath.Join(dir, rel)); err != nil {
			return err
		}
	}
	return nil
}

func isHash(s string) bool {
	raw, err := hex.DecodeString(s)
	return err == nil && len(raw) == 32
}

// Deliver puts what came of a run, in the lab's folder dir, into the store.
func (s *Store) Deliver(ctx context.Context, dir, layout, run string) error {
	var b [8]byte
	if _, err := rand.Read(b[:]); err != nil {
		return err
	}
	tmp, err := os.CreateTemp(dir, ".result-*")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name())
	err = pack(tmp, filepath.Join(dir, "results", layout), run)
	if err = errors.Join(err, tmp.Close()); err != nil {
		return err
	}
	return s.Put(ctx, fmt.Sprintf("%s%s/%s.%s.zip", resultsKey, layout, run, hex.EncodeToString(b[:])), tmp.Name(), "")
}

// pack writes the result of a run, or the note of its failure, as a zip.
func pack(to io.Writer, dir, run string) error {
	z := zip.NewWriter(to)
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(dir, p)
		top, _, _ := strings.Cut(filepath.ToSlash(rel), "/")
		switch {
		case err != nil || rel == ".":
			return err
		case top != run && top != run+lab.FailedSuffix && top != run+lab.ReportSuffix:
			if d.IsDir() {
				return filepath.SkipDir
			}
			return nil
		case d.IsDir():
			return nil
		}
		w, err := z.Create(filepath.ToSlash(rel))
		if err != nil {
			return err
		}
		f, err := os.Open(p)
		if err != nil {
			return err
		}
		defer f.Close()
		_, err = io.Copy(w, f)
		return err
	})
	return errors.Join(err, z.Close())
}

// maxResult bounds what a result may unpack to, bytes.
const maxResult = 2 << 30

// Collect takes results that wait in the store into the lab's folder, each whole,
// and returns their runs. What is damaged stays in the store, and is told.
func (s *Store) Collect(ctx context.Context, l *lab.Lab) (runs []string, err error) {
	list, err := s.List(ctx, resultsKey)
	if err != nil {
		return nil, err
	}
	for _, o := range list {
		layout, name, ok := strings.Cut(strings.TrimPrefix(o.Key, resultsKey), "/")
		parts := strings.Split(name, ".") // RUN.ID.zip
		if n := len(parts); !ok || n < 3 || parts[n-1] != "zip" {
			continue
		}
		run := strings.Join(parts[:len(parts)-2], ".")
		if e := s.collect(ctx, l, o.Key, layout, run); e != nil {
			err = errors.Join(err, fmt.Errorf("the result of %s/%s can't be taken from the store: %w", layout, run, e))
			continue
		}
		runs = append(runs, layout+"/"+run)
	}
	return runs, err
}

func (s *Store) collect(ctx context.Context, l *lab.Lab, key, layout, run string) error {
	dir, err := os.MkdirTemp("", "swathe-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "result.zip")
	if _, err := s.Get(ctx, key, file); err != nil {
		return err
	}
	z, err := zip.OpenReader(file)
	if err != nil {
		return fmt.Errorf("it is damaged: %w", err)
	}
	defer z.Close()
	whole := false
	for _, f := range z.File {
		if !filepath.IsLocal(f.Name) {
			return fmt.Errorf("it holds a file %q", f.Name)
		}
		whole = whole || f.Name == run+"/"+lab.MadeName
	}
	if whole {
		if err := l.TakeResult(layout, run, func(to string) error { return unpack(&z.Reader, run+"/", to) }); err != nil {
			return err
		}
	} else if err := takeNotes(&z.Reader, l, layout, run, dir); err != nil {
		return err
	}
	return s.Delete(ctx, key)
}

// unpack writes the files below a folder of a zip into a folder.
func unpack(z *zip.Reader, below, to string) error {
	left := int64(maxResult)
	for _, f := range z.File {
		rel, ok := strings.CutPrefix(f.Name, below)
		if !ok {
			continue
		}
		name := filepath.Join(to, filepath.FromSlash(rel))
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			return err
		}
		from, err := f.Open()
		if err != nil {
			return err
		}
		w, err := os.Create(name)
		if err != nil {
			from.Close()
			return err
		}
		n, err := io.Copy(w, io.LimitReader(from, left+1))
		from.Close()
		if left -= n; left < 0 {
			err = fmt.Errorf("it unpacks to more than %d MB", maxResult>>20)
		}
		if err = errors.Join(err, w.Close()); err != nil {
			return err
		}
	}
	return nil
}

// takeNotes takes over the note of a failure and the report of a crash; a result of
// before is left where it is, as where the recording is measured in place.
func takeNotes(z *zip.Reader, l *lab.Lab, layout, run, dir string) error {
	if err := unpack(z, "", dir); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Join(l.ResultsDir(), layout), 0o755); err != nil {
		return err
	}
	for _, suffix := range []string{lab.ReportSuffix, lab.FailedSuffix} {
		raw, err := os.ReadFile(filepath.Join(dir, run+suffix))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		} else if err != nil {
			return err
		}
		if err := disk.WriteWhole(filepath.Join(l.ResultsDir(), layout, run+suffix), raw); err != nil {
			return err
		}
	}
	return nil
}
