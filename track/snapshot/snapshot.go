// Package snapshot writes the state of a value, unexported fields and all, and
// puts it into another of the same making: by that a long piece of work that was
// stopped goes on where it was, in another process of the same program.
//
// The value that is put into has been made the same way as the one that was
// written, and functions and interfaces in it stay as they were made. Its
// pointers and slices of the right length keep their place and are written
// through, so that functions in it still find them. Pointers to one thing of one
// type, and slices of one stretch of memory, point to one thing afterwards; what
// overlaps otherwise does so only if it did when both were made.
package snapshot

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"reflect"
	"unsafe"
)

// mark ends what Save writes, before its checksum: a file that was cut is noticed.
const mark = 0x51a7c0de

// Save writes the state of what v points to.
func Save(w io.Writer, v any) error {
	sum := crc32.NewIEEE()
	b := bufio.NewWriterSize(io.MultiWriter(w, sum), 1<<16)
	s := saver{w: b, seen: map[place]uint64{}}
	s.value(reflect.ValueOf(v))
	s.number(mark)
	if s.err == nil {
		s.err = b.Flush()
	}
	if s.err == nil {
		s.err = binary.Write(w, binary.LittleEndian, sum.Sum32())
	}
	return s.err
}

// Load puts what Save wrote of a value of the same type into what v points to.
// Where it fails v is of no more use.
func Load(r io.Reader, v any) (err error) {
	sum := crc32.NewIEEE()
	b := bufio.NewReaderSize(r, 1<<16)
	l := loader{r: io.TeeReader(b, sum), taken: map[place]bool{}}
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("a state that does not fit: %v", p)
		}
	}()
	l.value(reflect.ValueOf(v))
	if l.err == nil && l.number() != mark {
		l.err = errors.New("a state that does not fit")
	}
	want, got := sum.Sum32(), uint32(0)
	if l.err == nil {
		l.err = binary.Read(b, binary.LittleEndian, &got)
	}
	if l.err == nil && got != want {
		l.err = errors.New("a state that was damaged")
	}
	return l.err
}

// place is what a pointer of some type points to, or a slice of some length.
type place struct {
	at  unsafe.Pointer
	of  reflect.Type
	len int
}

// What a pointer or a slice is: nothing, one that was not seen before, or, with its
// number above these, one that was.
const nothing, fresh = 0, 1

// plain tells whether a type's memory is all there is of it.
func plain(t reflect.Type) bool {
	switch t.Kind() {
	case reflect.Bool, reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64, reflect.Uint, reflect.Uint8, reflect.Uint16,
		reflect.Uint32, reflect.Uint64, reflect.Float32, reflect.Float64, reflect.Complex64, reflect.Complex128:
		return true
	case reflect.Array:
		return plain(t.Elem())
	case reflect.Struct:
		for i := range t.NumField() {
			if !plain(t.Field(i).Type) {
				return false
			}
		}
		return true
	}
	return false
}

// memory is that of a value of a plain type, or of the elements of a slice of such.
func memory(at unsafe.Pointer, size uintptr) []byte { return unsafe.Slice((*byte)(at), size) }

// open makes a field that is not exported like one that is.
func open(v reflect.Value) reflect.Value {
	return reflect.NewAt(v.Type(), unsafe.Pointer(v.UnsafeAddr())).Elem()
}

type saver struct {
	w    io.Writer
	seen map[place]uint64
	err  error
}

func (s *saver) bytes(b []byte) {
	if s.err == nil {
		_, s.err = s.w.Write(b)
	}
}

func (s *saver) number(n uint64) { s.bytes(binary.LittleEndian.AppendUint64(nil, n)) }

// again writes which one it is, and tells whether it was seen before.
func (s *saver) again(p place) bool {
	n, ok := s.seen[p]
	if !ok {
		s.seen[p], n = uint64(len(s.seen))+fresh+1, fresh
	}
	s.number(n)
	return ok
}

// value writes a value; all but the outermost pointer can be addressed.
func (s *saver) value(v reflect.Value) {
	t := v.Type()
	switch {
	case s.err != nil:
	case plain(t):
		s.bytes(memory(unsafe.Pointer(v.UnsafeAddr()), t.Size()))
	case t.Kind() == reflect.Struct:
		for i := range t.NumField() {
			s.value(open(v.Field(i)))
		}
	case t.Kind() == reflect.Array:
		for i := range t.Len() {
			s.value(v.Index(i))
		}
	case t.Kind() == reflect.String:
		s.number(uint64(v.Len()))
		s.bytes([]byte(v.String()))
	case t.Kind() == reflect.Slice:
		if v.IsNil() {
			s.number(nothing)
			return
		}
		if v.Len() > 0 && s.again(place{v.UnsafePointer(), t, v.Len()}) {
			return
		}
		if v.Len() == 0 {
			s.number(fresh)
		}
		s.number(uint64(v.Len()))
		if plain(t.Elem()) {
			s.bytes(memory(v.UnsafePointer(), uintptr(v.Len())*t.Elem().Size()))
			return
		}
		for i := range v.Len() {
			s.value(v.Index(i))
		}
	case t.Kind() == reflect.Pointer:
		if v.IsNil() {
			s.number(nothing)
		} else if !s.again(place{at: v.UnsafePointer(), of: t}) {
			s.value(v.Elem())
		}
	case t.Kind() == reflect.Func, t.Kind() == reflect.Interface:
	default:
		s.err = fmt.Errorf("the state of a %v cannot be kept", t)
	}
}

type loader struct {
	r     io.Reader
	seen  []reflect.Value // by number
	taken map[place]bool  // the places that have been read
	err   error
}

func (l *loader) bytes(b []byte) {
	if l.err == nil {
		_, l.err = io.ReadFull(l.r, b)
	}
}

func (l *loader) number() uint64 {
	var b [8]byte
	l.bytes(b[:])
	return binary.LittleEndian.Uint64(b[:])
}

// most is above what any state holds of one thing; a larger number was damaged.
const most = 1 << 30

func (l *loader) length() int {
	n := l.number()
	if n > most {
		l.err = errors.New("a state that was damaged")
		return 0
	}
	return int(n)
}

func (l *loader) value(v reflect.Value) {
	t := v.Type()
	switch {
	case l.err != nil:
	case plain(t):
		l.bytes(memory(unsafe.Pointer(v.UnsafeAddr()), t.Size()))
	case t.Kind() == reflect.Struct:
		for i := range t.NumField() {
			l.value(open(v.Field(i)))
		}
	case t.Kind() == reflect.Array:
		for i := range t.Len() {
			l.value(v.Index(i))
		}
	case t.Kind() == reflect.String:
		b := make([]byte, l.length())
		l.bytes(b)
		v.SetString(string(b))
	case t.Kind() == reflect.Slice:
		l.slice(v)
	case t.Kind() == reflect.Pointer:
		l.pointer(v)
	}
}

func (l *loader) slice(v reflect.Value) {
	n := l.length()
	if l.err != nil || n == nothing {
		v.SetZero()
		return
	}
	if n > fresh {
		v.Set(l.seen[n-fresh-1])
		return
	}
	n = l.length()
	p := place{v.UnsafePointer(), v.Type(), v.Len()}
	if v.IsNil() || v.Len() != n || l.taken[p] {
		v.Set(reflect.MakeSlice(v.Type(), n, n))
		p.at, p.len = v.UnsafePointer(), n
	}
	if n > 0 {
		l.taken[p] = true
		l.seen = append(l.seen, held(v))
	}
	if e := v.Type().Elem(); plain(e) {
		l.bytes(memory(v.UnsafePointer(), uintptr(n)*e.Size()))
		return
	}
	for i := range n {
		l.value(v.Index(i))
	}
}

func (l *loader) pointer(v reflect.Value) {
	switch n := l.length(); {
	case l.err != nil:
	case n == nothing:
		v.SetZero()
	case n > fresh:
		v.Set(l.seen[n-fresh-1])
	default:
		// The outermost one is v itself, which cannot be set.
		p := place{at: v.UnsafePointer(), of: v.Type()}
		if v.IsNil() || l.taken[p] {
			v.Set(reflect.New(v.Type().Elem()))
			p.at = v.UnsafePointer()
		}
		l.taken[p] = true
		l.seen = append(l.seen, held(v))
		l.value(v.Elem())
	}
}

// held is a value that stays what it is when the field that it was read from changes.
func held(v reflect.Value) reflect.Value {
	h := reflect.New(v.Type()).Elem()
	h.Set(v)
	return h
}
