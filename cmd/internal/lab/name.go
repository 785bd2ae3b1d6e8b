package lab

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Phases a run can be in.
var Phases = []string{"mapping", "mapped", "single"}

// Containers that are taken for recordings, lower case, with the dot.
var videoTypes = []string{".mp4", ".mov", ".mkv", ".avi", ".webm", ".m4v", ".mts", ".m2ts", ".ts", ".mpg", ".mpeg", ".wmv", ".3gp"}

const pathType = ".csv"

// Types of films that no container above is, and endings that tools give to a
// copy under way and cameras to small companions of a recording.
var (
	otherFilms = []string{".gif", ".flv", ".f4v", ".ogv", ".ogg", ".vob", ".mxf", ".asf", ".dv", ".mjpeg", ".mjpg", ".h264", ".264", ".h265", ".265", ".hevc", ".apng"}
	notYetFilm = []string{".part", ".partial", ".filepart", ".crdownload", ".download", ".tmp", ".temp", ".lrv", ".thm"}
)

// RunSheet is the name of the optional run sheet of a layout's recordings.
const RunSheet = "runs.csv"

// isRecording tells whether a file of this name may be a recording. Hidden
// files and files that are still being copied (by the names that common tools
// give them) are not.
func isRecording(name string) bool {
	lower := strings.ToLower(name)
	if strings.HasPrefix(name, ".") || strings.HasSuffix(name, "~") || strings.HasPrefix(name, "~") || lower == RunSheet {
		return false
	}
	ext := filepath.Ext(lower)
	return ext == pathType || slices.Contains(videoTypes, ext)
}

// isOtherFilm tells whether a file that isRecording does not take looks like a
// film all the same, by its type or by how its content begins: its owner should
// hear that it is not measured.
func isOtherFilm(file string) bool {
	name := strings.ToLower(filepath.Base(file))
	ext := filepath.Ext(name)
	if isRecording(name) || strings.HasPrefix(name, ".") || strings.HasPrefix(name, "~") || strings.HasSuffix(name, "~") || slices.Contains(notYetFilm, ext) {
		return false
	}
	if slices.Contains(otherFilms, ext) {
		return true
	}
	if st, err := os.Stat(file); err != nil || !st.Mode().IsRegular() {
		return false // a pipe would be waited for
	}
	f, err := os.Open(file)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, 512) // as much as the detection looks at
	n, _ := io.ReadFull(f, head)
	kind := http.DetectContentType(head[:n])
	return strings.HasPrefix(kind, "video/") || kind == "image/gif"
}

// otherFilmWords says that a film is not measured, and how to mend it.
func otherFilmWords(name string) string {
	return fmt.Sprintf("%s is a film of a type that cannot be measured. Convert it to .mp4 (H.264) with the same frame size and frame rate, or move it out of recordings/. Known types: %s and %s.",
		name, strings.Join(videoTypes, " "), pathType)
}

// IsPath tells whether a recording is a path measured elsewhere.
func IsPath(file string) bool { return strings.EqualFold(filepath.Ext(file), pathType) }

// RunName says which run a recording is.
type RunName struct {
	Robot, Phase string
	Trial        int // from 1
}

// String returns <robot>_<phase>_<trial>, the name of the result's folder.
func (n RunName) String() string { return fmt.Sprintf("%s_%s_%d", n.Robot, n.Phase, n.Trial) }

var partTail = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?i)_part(\d{1,6})$`) })

// splitPart takes _partN off a file's stem; part is 0 if there is none.
func splitPart(stem string) (base string, part int) {
	if m := partTail().FindStringSubmatchIndex(stem); m != nil {
		n, _ := strconv.Atoi(stem[m[2]:m[3]])
		return stem[:m[0]], n
	}
	return stem, 0
}

// ParseRunName reads <robot>_<phase>_<trial>, split from the right so that the
// robot's name may hold an underscore.
func ParseRunName(stem string) (RunName, error) {
	const want = "A recording is called <robot>_<phase>_<trial>, such as linden_mapping_1.mp4"
	cut := strings.LastIndex(stem, "_")
	if cut < 0 {
		return RunName{}, fmt.Errorf("the name %q does not identify a run. %s; or list it in the run sheet %s", stem, want, RunSheet)
	}
	trial, err := strconv.Atoi(stem[cut+1:])
	if err != nil || trial < 1 || trial > 1e6 || strings.HasPrefix(stem[cut+1:], "+") {
		return RunName{}, fmt.Errorf("the name %q should end in the trial number, 1 or more; it ends in %q. %s; or list it in the run sheet %s", stem, stem[cut+1:], want, RunSheet)
	}
	rest := stem[:cut]
	cut = strings.LastIndex(rest, "_")
	if cut < 0 {
		return RunName{}, fmt.Errorf("the name %q lacks the robot or the phase. %s; or list it in the run sheet %s", stem, want, RunSheet)
	}
	phase := strings.ToLower(rest[cut+1:])
	if !slices.Contains(Phases, phase) {
		return RunName{}, fmt.Errorf("the name %q has %q in place of the phase (%s).%s %s; or list it in the run sheet %s",
			stem, rest[cut+1:], strings.Join(Phases, ", "), suggestion(phase, Phases), want, RunSheet)
	}
	robot := rest[:cut]
	if robot == "" {
		return RunName{}, fmt.Errorf("the name %q lacks the robot. %s; or list it in the run sheet %s", stem, want, RunSheet)
	}
	return RunName{robot, phase, trial}, nil
}

func suggestion(word string, known []string) string {
	if k := Nearest(word, known); k != "" {
		return fmt.Sprintf(" Did you mean %q?", k)
	}
	return ""
}
