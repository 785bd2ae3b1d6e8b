package page

import "testing"

// Names that another system cannot keep, or that do not show as they are, are
// refused; names that only look like them are taken.
func TestRecordingNames(t *testing.T) {
	for name, ok := range map[string]bool{
		"tern_mapping_1.mp4": true, "CONNIE_mapping_1.mp4": true, "com_mapping_1.mp4": true, "COM10.mp4": true, "Zürich_mapped_2.mov": true, "console.mp4": true,
		"CON.mp4": false, "con.tar.mp4": false, "Aux .mp4": false, "nul.csv": false, "LPT1.mp4": false, "com\u00b9.mp4": false,
		"tern\u202e4pm.mp4": false, "tern\u2066_1.mp4": false, "te\u200brn_1.mp4": false, "tern\ufeff.mp4": false,
	} {
		if err := recordingName(name); (err == nil) != ok {
			t.Errorf("%q: %v", name, err)
		}
	}
	for _, name := range []string{"PRN", "den.", "d\u200fen"} {
		if plainName(name, "a layout") == nil {
			t.Errorf("%q is taken", name)
		}
	}
}
