package film

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"hash/adler32"
	"hash/crc32"
	"runtime"
	"sync"

	"swathe/track/paint"
)

// Pictures encodes the frames of a see-through film as PNG, without loss. As most of
// a frame is what it was before, frames are compressed in bands of rows, each by
// itself, and of a band that did not change the bytes are used again. (A picture's
// chunks of data are one zlib stream; what a flush ends is a whole number of bytes, and
// may be followed by blocks that refer to nothing before them: RFC 1950 and 1951.)
type Pictures struct {
	w, h    int
	bands   []band
	presses []press
}

type band struct {
	pix, a []byte // as on the canvas
	chunk  []byte // of the file; empty: nothing was compressed yet
	sum    uint32 // Adler-32 of the n bytes that are compressed in it
	n      int
}

// press is what one goroutine compresses with.
type press struct {
	raw []byte
	out bytes.Buffer
	z   *flate.Writer
}

// bandRows is the height of a band, px: what moves is some 50 px high, and each band
// costs about 100 bytes.
const bandRows = 24

// NewPictures prepares for frames of w x h px.
func NewPictures(w, h int) *Pictures {
	p := &Pictures{w: w, h: h, bands: make([]band, (h+bandRows-1)/bandRows), presses: make([]press, runtime.GOMAXPROCS(0))}
	for i := range p.presses {
		p.presses[i].z, _ = flate.NewWriter(nil, flate.BestSpeed) // fails with a level that there is not
	}
	return p
}

// Take looks at the next frame, which has alpha; same tells that it is what the frame
// before was.
func (p *Pictures) Take(c *paint.Canvas) (same bool) {
	var changed []int
	for k := range p.bands {
		b, from, to := &p.bands[k], k*bandRows*p.w, min(p.h, (k+1)*bandRows)*p.w
		if len(b.chunk) > 0 && bytes.Equal(b.a, c.A[from:to]) && bytes.Equal(b.pix, c.Pix[3*from:3*to]) {
			continue
		}
		b.pix, b.a = append(b.pix[:0], c.Pix[3*from:3*to]...), append(b.a[:0], c.A[from:to]...)
		changed = append(changed, k)
	}
	var all sync.WaitGroup
	for i := range p.presses {
		all.Go(func() {
			for j := i; j < len(changed); j += len(p.presses) {
				p.presses[i].compress(&p.bands[changed[j]], p.w)
			}
		})
	}
	all.Wait()
	return len(changed) == 0
}

// compress makes the chunk of a band of rows of w px.
func (p *press) compress(b *band, w int) {
	p.raw = p.raw[:0]
	for i, a := range b.a {
		if i%w == 0 {
			p.raw = append(p.raw, 0) // the row's filter: none
		}
		p.raw = append(p.raw, b.pix[3*i+2], b.pix[3*i+1], b.pix[3*i], a)
	}
	b.sum, b.n = adler32.Checksum(p.raw), len(p.raw)
	p.out.Reset()
	p.z.Reset(&p.out)
	p.z.Write(p.raw) // to memory: no error
	p.z.Flush()
	b.chunk = appendChunk(b.chunk[:0], "IDAT", p.out.Bytes())
}

// PNG appends the file of the last frame taken to out.
func (p *Pictures) PNG(out []byte) []byte {
	out = append(out, "\x89PNG\r\n\x1a\n"...)
	head := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, uint32(p.w)), uint32(p.h))
	out = appendChunk(out, "IHDR", append(head, 8, 6, 0, 0, 0)) // 8 bits each of red, green, blue and alpha
	out = appendChunk(out, "IDAT", []byte{0x78, 0x01})
	sum := uint32(1)
	for i := range p.bands {
		out = append(out, p.bands[i].chunk...)
		sum = joined(sum, p.bands[i].sum, p.bands[i].n)
	}
	out = appendChunk(out, "IDAT", binary.BigEndian.AppendUint32([]byte{1, 0, 0, 0xff, 0xff}, sum)) // an empty last block
	return appendChunk(out, "IEND", nil)
}

// joined is the Adler-32 of two pieces, the second n bytes long, of theirs.
func joined(a, b uint32, n int) uint32 {
	const mod = 65521
	low := (a&0xffff + b&0xffff + mod - 1) % mod
	high := (uint64(a>>16) + uint64(b>>16) + uint64(n)%mod*uint64(a&0xffff+mod-1)) % mod
	return uint32(high)<<16 | low
}

func appendChunk(out []byte, kind string, data []byte) []byte {
	out = binary.BigEndian.AppendUint32(out, uint32(len(data)))
	from := len(out)
	out = append(append(out, kind...), data...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[from:]))
}
