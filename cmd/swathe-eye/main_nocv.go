//go:build !(cgo && customenv)

// Command swathe-eye is the part of swathe that needs pixels. This build has
// no OpenCV and can only say so; cmd/build.sh makes the one that sees.
package main

import (
	"fmt"
	"os"
)

func main() {
	fmt.Fprintln(os.Stderr, "swathe-eye was built without OpenCV and cannot read recordings; run: bash cmd/build.sh DIR")
	os.Exit(1)
}
