package page

import (
	"errors"
	"io/fs"
	"net/http"
	"path"
	"slices"
	"strings"
	"unicode"
)

// Containers that may be dropped, lower case. A path measured elsewhere is a
// recording too.
var recordingTypes = []string{".mp4", ".mov", ".mkv", ".avi", ".webm", ".m4v", ".mts", ".m2ts", ".ts", ".mpg", ".mpeg", ".wmv", ".3gp", ".csv"}

// reserved tells whether Windows keeps a name for a device, with any ending
// (learn.microsoft.com, "Naming Files, Paths, and Namespaces"): a lab may be
// copied there. The superscript digits count as digits.
func reserved(name string) bool {
	stem, _, _ := strings.Cut(strings.ToUpper(name), ".")
	stem = strings.TrimRight(stem, " ")
	switch stem {
	case "CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$":
		return true
	}
	r := []rune(stem)
	return len(r) == 4 && (string(r[:3]) == "COM" || string(r[:3]) == "LPT") && strings.ContainsRune("0123456789¹²³", r[3])
}

// plainName refuses a name that could mean another place than a file or folder
// of its own.
func plainName(name, what string) error {
	switch {
	case name == "" || strings.TrimSpace(name) != name:
		return Refuse(http.StatusBadRequest, "The name of %s is empty, or begins or ends with a space.", what)
	case reserved(name):
		return Refuse(http.StatusBadRequest, "%q can't be the name of %s: some systems reserve it for a device. Choose another, such as run_%s.", name, what, name)
	case strings.HasSuffix(name, "."):
		return Refuse(http.StatusBadRequest, "%q can't be the name of %s: some systems drop the dot at its end. Remove the dot.", name, what)
	case strings.ContainsFunc(name, func(c rune) bool { return unicode.Is(unicode.Cf, c) }):
		return Refuse(http.StatusBadRequest, "%q can't be the name of %s: it contains an invisible character, such as one that reverses the direction of writing. Type the name again.", name, what)
	case len(name) > 120:
		return Refuse(http.StatusBadRequest, "The name of %s is longer than 120 bytes.", what)
	case strings.HasPrefix(name, "."), strings.ContainsAny(name, "/\\:*?\"<>|[]"),
		strings.ContainsFunc(name, func(c rune) bool { return c < ' ' || c == 0x7f || c == 0xfffd }):
		return Refuse(http.StatusBadRequest, "%q can't be the name of %s: it begins with a dot or contains a character that file names should not.", name, what)
	}
	return nil
}

func recordingName(name string) error {
	if err := plainName(name, "a recording"); err != nil {
		return err
	}
	if ext := strings.ToLower(path.Ext(name)); !slices.Contains(recordingTypes, ext) || strings.EqualFold(name, "runs.csv") || strings.HasPrefix(name, "~") || strings.HasSuffix(name, "~") {
		return Refuse(http.StatusUnsupportedMediaType, "%q is not of a type that can be measured. Known types: %s.", name, strings.Join(recordingTypes, " "))
	}
	return nil
}

// runName splits <layout>/<run> of a request, both plain.
func runName(r *http.Request) (string, error) {
	layout, run := r.PathValue("layout"), r.PathValue("run")
	if err := plainName(layout, "a layout"); err != nil {
		return "", err
	}
	if err := plainName(run, "a run"); err != nil {
		return "", err
	}
	return layout + "/" + run, nil
}

// file sends a file of the lab, which may be large; links that lead out of the
// lab are refused by the root.
func (s *server) file(w http.ResponseWriter, r *http.Request, name string) {
	f, err := s.root.Open(name)
	if err == nil {
		defer f.Close()
		st, serr := f.Stat()
		if serr == nil && st.Mode().IsRegular() {
			http.ServeContent(w, r, path.Base(name), st.ModTime(), f)
			return
		}
		err = fs.ErrNotExist
	}
	if isEscape(err) {
		refuse(w, Refuse(http.StatusForbidden, "%s is outside the lab's folder, so it is not shown.", name))
		return
	}
	if errors.Is(err, fs.ErrNotExist) {
		refuse(w, Refuse(http.StatusNotFound, "There is no %s.", name))
		return
	}
	refuse(w, Refuse(http.StatusForbidden, "%s can't be read.", name))
}

// inside tells whether a recording is a file inside the lab, through no link
// that leads out.
func (s *server) inside(name string) error {
	st, err := s.root.Stat(name)
	switch {
	case err == nil && st.Mode().IsRegular():
		return nil
	case isEscape(err):
		return Refuse(http.StatusForbidden, "%s is outside the lab's folder, so it is not shown.", name)
	}
	return Refuse(http.StatusNotFound, "There is no %s.", name)
}

func (s *server) recording(w http.ResponseWriter, r *http.Request) {
	layout, name := r.PathValue("layout"), r.PathValue("name")
	if err := errors.Join(plainName(layout, "a layout"), recordingName(name)); err != nil {
		refuse(w, err)
		return
	}
	s.file(w, r, path.Join("recordings", layout, name))
}

// made sends a file of comparisons/ or exports/. Pages among them carry styles
// and pictures of their own and no script.
func (s *server) made(folder string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		name, file := r.PathValue("name"), r.PathValue("file")
		if err := errors.Join(plainName(name, "a folder"), plainName(file, "a file")); err != nil {
			refuse(w, err)
			return
		}
		w.Header().Set("Content-Security-Policy", "default-src 'none'; img-src data: 'self'; style-src 'unsafe-inline'; sandbox; frame-ancestors 'none'")
		if r.URL.Query().Has("download") {
			w.Header().Set("Content-Disposition", "attachment")
		}
		s.file(w, r, path.Join(folder, name, file))
	}
}
