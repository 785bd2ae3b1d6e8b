// Package conduct tells what a robot did in a run.
package conduct
