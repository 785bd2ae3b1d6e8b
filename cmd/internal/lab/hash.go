package lab

// hashFile keeps what the recordings hashed to, so that a lab of many large
// files need not be read whole at every start. It may be deleted at any time.
const hashFile = ".hashes.json"

// KnownHash returns the SHA-256 of a recording if it is known without reading it.
func (l *Lab) KnownHash(file string) (string, bool) { return l.hashes.At(file) }

// Hash returns the SHA-256 of a file, lower-case hex; it is read only if its size
// or time of change are new.
func (l *Lab) Hash(file string) (string, error) { return l.hashes.Sum(file) }
