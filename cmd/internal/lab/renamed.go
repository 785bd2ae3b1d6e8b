package lab

import (
	"fmt"
	"slices"
)

// renamed holds the keys of lab.yaml, of notes and of run sheets that had
// another name in schema 1. They are refused with the new name: some of the
// old ones mean something else today.
var renamed = map[string]string{
	"props": "test_objects", "unit": "sample",
	"stall_time": "pause_time", "stall_drift": "pause_drift", "stall_turn": "pause_turn",
	"edge_distance": "follow_distance", "touch_speed": "contact_speed", "touch_from": "contact_from",
	"touch_angle": "contact_angle", "touch_slide": "contact_slide", "touch_turn": "contact_turn",
	"contact_distance": "object_gap", "coat_share": "second_layer_share",
	"probe_times": "edge_retry_times", "probe_time": "edge_retry_time", "probe_distance": "edge_retry_distance",
}

// dropped holds the keys that are gone, with what stands in their place.
var dropped = map[string]string{
	"touch_distance": "what cannot be told from a contact follows from outline_sigma, path_sigma and diameter_tolerance",
	"contact_gap":    "what cannot be told from a contact follows from outline_sigma, path_sigma and diameter_tolerance",
	"spin_slack":     "a spin turns by spin_turn or more",
}

// renamedKinds are the kinds of an area that had another name.
var renamedKinds = map[string]string{"asked": "target", "keep_out": "off_limits"}

// hint says what to write in a key's place: its new name, or the nearest.
func hint(key string, known []string) string {
	if now, ok := renamed[key]; ok && slices.Contains(known, now) {
		return fmt.Sprintf(" It is now called %s; rename it.", now)
	}
	if why, ok := dropped[key]; ok {
		return fmt.Sprintf(" It is gone: %s. Remove it.", why)
	}
	return DidYouMean(key, known)
}
