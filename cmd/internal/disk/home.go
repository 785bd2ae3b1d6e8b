package disk

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"sync"
)

// Home names, in twelve characters, where the numbers of processes mean what they
// mean here: the machine, and on Linux the space of its process numbers, which
// containers of one machine may not share.
var Home = sync.OnceValue(func() string {
	host, _ := os.Hostname()
	space, _ := os.Readlink("/proc/self/ns/pid")
	sum := sha256.Sum256([]byte(host + " " + space))
	return hex.EncodeToString(sum[:6])
})
