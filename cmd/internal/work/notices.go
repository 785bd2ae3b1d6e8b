package work

import (
	"context"
	"os"
	"path/filepath"

	"github.com/fsnotify/fsnotify"
)

// Notices returns a channel that receives something when the set-up or the
// recordings of the lab in dir change. With an error it is nil: the system gives
// no such notices, which costs only the wait for the next look.
func Notices(ctx context.Context, dir string) (<-chan struct{}, error) {
	w, err := fsnotify.NewWatcher()
	if err != nil {
		return nil, err
	}
	out := make(chan struct{}, 1)
	add := func(dir string) { _ = w.Add(dir) } // a folder that cannot be watched is polled
	recordings := filepath.Join(dir, "recordings")
	add(dir)
	add(filepath.Join(dir, "robots"))
	add(recordings)
	dirs, _ := os.ReadDir(recordings)
	for _, d := range dirs {
		add(filepath.Join(recordings, d.Name()))
	}
	go func() {
		defer w.Close()
		for {
			select {
			case <-ctx.Done():
				return
			case e := <-w.Events:
				if e.Has(fsnotify.Create) {
					if st, err := os.Stat(e.Name); err == nil && st.IsDir() && filepath.Base(e.Name) != "results" {
						add(e.Name)
					}
				}
				select {
				case out <- struct{}{}:
				default: // one is waiting to be seen already
				}
			case <-w.Errors: // such as an overflow: the next look sees what it lost
			}
		}
	}()
	return out, nil
}
