// Package disk writes files and folders whole or not at all, also against programs that
// write the same ones, and remembers what files hashed to.
package disk

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// Put is WriteWhole with the error as it came.
func Put(file string, data []byte) error {
	return WriteWholeBy(file, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// WriteWholeBy has write write a file so that at every moment either the old
// content or the new is there, whole. The error is as it came.
func WriteWholeBy(file string, write func(io.Writer) error) (err error) {
	if err := TidyOf(filepath.Dir(file), "."+filepath.Base(file)+writingMark); err != nil {
		return err
	}
	tmp := filepath.Join(filepath.Dir(file), "."+filepath.Base(file)+writingMark+writer())
	f, err := os.OpenFile(tmp, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(tmp)
		}
	}()
	if err = write(f); err != nil {
		return err
	}
	if err = f.Sync(); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	if err = os.Rename(tmp, file); err != nil {
		return err
	}
	return syncDir(filepath.Dir(file))
}

// WriteWhole writes a file so that at every moment either the old content or the
// new is there, whole. The error is a sentence.
func WriteWhole(file string, data []byte) error {
	return Explain(filepath.Base(file), Put(file, data))
}

// syncDir makes a rename in dir last through a power cut. Some file systems
// refuse to sync a folder; nothing better can be done there.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, errors.ErrUnsupported) {
		return err
	}
	return nil
}

// syncTree makes the files of a folder last.
func syncTree(dir string) error {
	return filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			return syncDir(p)
		}
		f, err := os.Open(p)
		if err != nil {
			return err
		}
		defer f.Close()
		return f.Sync()
	})
}

// Marks in the names of folders that are on their way in or out.
const (
	buildingMark = ".building-"
	asideMark    = ".aside-"
	writingMark  = ".writing-" // of a file
)

// writer names this process behind a mark: <home>-<process>.
func writer() string { return Home() + "-" + strconv.Itoa(os.Getpid()) }

// foreign is how old what a process of another machine is writing may be, by the
// clock of the folder: a result is written in seconds.
const foreign = 24 * time.Hour

// underway tells whether what bears a mark may still be written by another
// process: one of this machine that lives, or one of another machine that began
// of late. What has no home in its name was left by an older version.
func underway(e fs.DirEntry) bool {
	name := e.Name()
	i := max(strings.LastIndex(name, buildingMark), strings.LastIndex(name, asideMark), strings.LastIndex(name, writingMark))
	_, by, _ := strings.Cut(name[i+1:], "-")
	home, number, ok := strings.Cut(by, "-")
	pid, err := strconv.Atoi(number)
	if !ok || err != nil {
		return false
	}
	if home == Home() {
		return pid != os.Getpid() && Alive(pid)
	}
	info, err := e.Info()
	return err == nil && time.Since(info.ModTime()) < foreign
}

// ReplaceDir makes target a folder filled by fill: built beside and renamed, an
// older one moved aside first and removed only when the new one is in place.
// Interrupted anywhere, the older or the newer is there, whole, or lies aside
// and is put back by Tidy.
func ReplaceDir(target string, fill func(dir string) error) (err error) {
	parent, name := filepath.Split(target)
	if err := os.MkdirAll(parent, 0o755); err != nil {
		return err
	}
	for _, mark := range []string{asideMark, buildingMark} { // of those that were killed here
		if err := TidyOf(parent, "."+name+mark); err != nil {
			return err
		}
	}
	building := filepath.Join(parent, "."+name+buildingMark+writer())
	aside := filepath.Join(parent, "."+name+asideMark+writer())
	if err := os.RemoveAll(building); err != nil {
		return err
	}
	if err := os.Mkdir(building, 0o755); err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.RemoveAll(building)
		}
	}()
	if err := fill(building); err != nil {
		return err
	}
	if err := syncTree(building); err != nil {
		return err
	}
	moved := false
	if _, serr := os.Lstat(target); serr == nil {
		if err := os.Rename(target, aside); err != nil {
			return err
		}
		moved = true
	}
	if err := os.Rename(building, target); err != nil {
		if moved {
			if back := os.Rename(aside, target); back != nil {
				return fmt.Errorf("%w; and the older result could not be restored: it is in %s", err, aside)
			}
		}
		return err
	}
	if err := syncDir(parent); err != nil {
		return err
	}
	if moved {
		return os.RemoveAll(aside)
	}
	return nil
}

// Tidy removes what an interrupted run left in a results folder, and puts back
// an older result that was moved aside for a newer one that never came. What
// another process that lives is writing stays.
func Tidy(dir string) error { return TidyOf(dir, ".") }

// TidyOf tidies what has a name that begins so.
func TidyOf(dir, prefix string) error {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	} else if err != nil {
		return err
	}
	for _, e := range entries {
		name := e.Name()
		full := filepath.Join(dir, name)
		if !strings.HasPrefix(name, prefix) {
			continue
		}
		building := strings.Contains(name, buildingMark) || strings.Contains(name, writingMark)
		if (building || strings.Contains(name, asideMark)) && underway(e) {
			continue
		}
		if i := strings.LastIndex(name, asideMark); i > 0 && e.IsDir() {
			back := filepath.Join(dir, name[1:i])
			if _, err := os.Lstat(back); errors.Is(err, fs.ErrNotExist) {
				if err := os.Rename(full, back); err != nil {
					return err
				}
				continue
			}
			if err := os.RemoveAll(full); err != nil {
				return err
			}
		} else if building {
			if err := os.RemoveAll(full); err != nil {
				return err
			}
		}
	}
	return nil
}

// Explain turns an error of writing into a sentence that says how to mend
// it, naming the folder.
func Explain(dir string, err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return fmt.Errorf("%s can't be written: the disk is full. Free some space and measure again; no incomplete file was left (%w)", dir, err)
	case errors.Is(err, syscall.EFBIG):
		return fmt.Errorf("%s can't be written: the file would be larger than the system allows. Raise the limit (ulimit -f) or choose another disk; no incomplete file was left (%w)", dir, err)
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return fmt.Errorf("%s can't be written: permission denied. Get write permission there, or copy the lab to a folder where you have it (%w)", dir, err)
	case errors.Is(err, syscall.ENOTDIR), errors.Is(err, fs.ErrExist):
		return fmt.Errorf("%s can't be written: there is a file in place of a folder. Move that file away (%w)", dir, err)
	}
	return fmt.Errorf("%s can't be written: %w", dir, err)
}
