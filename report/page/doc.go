// Package page is the local page of a lab: set up by pointing, drop a
// recording, see it measured, set runs side by side, export. It holds the
// handlers, the templates and the scripts, and knows nothing of how a lab is
// read or a recording measured: what it needs of that is the interface Lab.
//
// No request leaves the machine: everything is embedded, and the policy sent
// with each answer forbids the browser to fetch from elsewhere. Who may ask is
// decided in guard.go; which files can be touched, in files.go and upload.go,
// through one os.Root at the lab's folder, so that no name, no link and no
// climbing path leads outside.
//
// Lengths are metres, times seconds, pixels (column, row) with the centre of
// the first at (0, 0), as everywhere in the project.
package page
