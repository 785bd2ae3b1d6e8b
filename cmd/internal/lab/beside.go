package lab

import "path/filepath"

// IsRecording tells whether a file of this name may be a recording.
func IsRecording(name string) bool { return isRecording(name) }

// NeedsName tells whether a recording's name does not say which run it is.
func NeedsName(name string) bool {
	base, _ := splitPart(stem(name))
	_, err := ParseRunName(base)
	return isRecording(name) && err != nil
}

// NotesFile returns the file of notes beside a recording, which speaks for all
// its parts.
func NotesFile(recording string) string {
	base, _ := splitPart(stem(filepath.Base(recording)))
	return filepath.Join(filepath.Dir(recording), base+".yaml")
}

// CheckNotes returns what is wrong with the text of a file of notes, a
// *Problems, or nil.
func (l *Lab) CheckNotes(file string, text []byte) error {
	var problems Problems
	n := noNotes()
	r, body := parse(file, text, &problems)
	if body != nil {
		r.notes(l, &n, body)
	}
	if len(problems.List) > 0 {
		return &problems
	}
	return n.check()
}
