package geom

import (
	"iter"
	"maps"
	"slices"
)

// inOrder ranges over a map by its keys' order: what a random test draws must
// depend on its seed alone.
func inOrder[T any](m map[string]T) iter.Seq2[string, T] {
	return func(yield func(string, T) bool) {
		for _, k := range slices.Sorted(maps.Keys(m)) {
			if !yield(k, m[k]) {
				return
			}
		}
	}
}
