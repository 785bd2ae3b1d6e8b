// Package courses holds drawn courses of known events against what is told of
// them. It has tests alone: the drawing and the telling may not import each
// other.
package courses
