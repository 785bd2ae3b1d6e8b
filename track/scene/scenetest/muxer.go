package scenetest

import (
	"encoding/binary"
	"io"
	"math"
)

// muxer writes raw pictures with their times as a Matroska stream (RFC 9559;
// EBML, RFC 8794): the simplest container that carries uneven times.
type muxer struct {
	width, height int
	begun         bool
}

// tick is the stream's unit of time, s. A block's time is relative to its
// cluster, so every frame gets a cluster of its own.
const tick = 1e-5

func (m *muxer) frame(w io.Writer, bgr []byte, t float64) error {
	if !m.begun {
		m.begun = true
		if _, err := w.Write(m.header()); err != nil {
			return err
		}
	}
	stamp := ebml(0xE7, number(uint64(math.Round(t/tick))))
	// SimpleBlock: track 1, no offset, key frame.
	block := append(id(0xA3), size(uint64(len(bgr)+4))...)
	block = append(block, 0x81, 0, 0, 0x80)
	head := append(id(0x1F43B675), size(uint64(len(stamp)+len(block)+len(bgr)))...)
	head = append(append(head, stamp...), block...)
	if _, err := w.Write(head); err != nil {
		return err
	}
	_, err := w.Write(bgr)
	return err
}

func (m *muxer) header() []byte {
	out := ebml(0x1A45DFA3, ebml(0x4282, []byte("matroska")), ebml(0x4287, number(4)), ebml(0x4285, number(2)))
	// A segment of unknown length.
	out = append(out, id(0x18538067)...)
	out = append(out, 0x01, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF)
	out = append(out, ebml(0x1549A966, ebml(0x2AD7B1, number(uint64(math.Round(tick*1e9)))))...)
	video := ebml(0xE0, ebml(0xB0, number(uint64(m.width))), ebml(0xBA, number(uint64(m.height))),
		ebml(0x2EB524, []byte{'B', 'G', 'R', 24}))
	track := ebml(0xAE, ebml(0xD7, number(1)), ebml(0x73C5, number(1)), ebml(0x83, number(1)),
		ebml(0x86, []byte("V_UNCOMPRESSED")), video)
	return append(out, ebml(0x1654AE6B, track)...)
}

// id writes an element's identifier, which carries its own length.
func id(v uint32) []byte {
	var b [4]byte
	binary.BigEndian.PutUint32(b[:], v)
	k := 0
	for b[k] == 0 {
		k++
	}
	return append([]byte(nil), b[k:]...)
}

// size writes a length in eight bytes.
func size(n uint64) []byte {
	var b [8]byte
	binary.BigEndian.PutUint64(b[:], n|1<<56)
	return b[:]
}

// number writes an unsigned number in eight bytes.
func number(n uint64) []byte {
	var b [8]byte
	binary.BigEndian.PutUint64(b[:], n)
	return b[:]
}

func ebml(v uint32, parts ...[]byte) []byte {
	n := 0
	for _, p := range parts {
		n += len(p)
	}
	out := append(id(v), size(uint64(n))...)
	for _, p := range parts {
		out = append(out, p...)
	}
	return out
}
