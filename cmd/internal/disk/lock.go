package disk

import "os"

// Claim locks a folder or a file for as long as the process lives, or fails
// at once where another holds it. Call release when done.
func Claim(path string) (release func(), err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	if err := LockExclusive(f); err != nil {
		f.Close()
		return nil, err
	}
	return func() { f.Close() }, nil
}
