package sight

import (
	"io"

	"swathe/track/snapshot"
)

// Save writes the state of the Watcher after the frames that it has looked at.
func (w *Watcher) Save(to io.Writer) error { return snapshot.Save(to, w) }

// Load puts what Save wrote into a Watcher that was made of the same set-up and
// background, by the same program, and has looked at nothing: it goes on as the
// other would have.
func (w *Watcher) Load(from io.Reader) error { return snapshot.Load(from, w) }
