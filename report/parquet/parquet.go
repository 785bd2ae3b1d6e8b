// Package parquet writes flat tables as Apache Parquet files, which programs
// for analysis read faster than CSV and with their types: the part of the format
// (apache/parquet-format 2.10, from memory; the tests read the files with
// another implementation) that a table of numbers and a few words needs. Numbers
// are PLAIN, words a dictionary, pages compressed with gzip, nulls by definition
// levels. A library that does all of it would make every start of the program
// ten milliseconds longer and the program a third larger.
package parquet

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// Column is a column of a table. Exactly one of its slices holds its values.
type Column struct {
	Name    string
	Float64 []float64 // NaN is null if Optional
	Float32 []float32 // the same
	Words   []string  // the empty one is null if Optional
	// Optional columns may hold nulls.
	Optional bool
}

// Meta is a line of a file's metadata.
type Meta struct{ Key, Value string }

// Numbers of the format.
const (
	typeFloat, typeDouble, typeBytes = 4, 5, 6
	plain, rle, rleDictionary        = 0, 3, 8
	dataPage, dictionaryPage         = 0, 2
	codecGzip                        = 2
	// pageRows is how many rows share a page: readers hold a page in memory.
	pageRows = 1 << 16
)

func (c *Column) kind() int64 {
	switch {
	case c.Float64 != nil:
		return typeDouble
	case c.Float32 != nil:
		return typeFloat
	}
	return typeBytes
}

func (c *Column) rows() int { return max(len(c.Float64), len(c.Float32), len(c.Words)) }

func (c *Column) null(i int) bool {
	if !c.Optional {
		return false
	}
	switch c.kind() {
	case typeDouble:
		return math.IsNaN(c.Float64[i])
	case typeFloat:
		return math.IsNaN(float64(c.Float32[i]))
	}
	return c.Words[i] == ""
}

// Write writes columns of equal length as one file.
func Write(w io.Writer, columns []Column, meta []Meta, createdBy string) error {
	if len(columns) == 0 {
		return fmt.Errorf("a table needs a column")
	}
	n := columns[0].rows()
	f := &file{w: w}
	f.write([]byte("PAR1"))
	var chunks []chunk
	for i := range columns {
		c := &columns[i]
		if c.rows() != n {
			return fmt.Errorf("column %s has %d rows, %s has %d", c.Name, c.rows(), columns[0].Name, n)
		}
		chunks = append(chunks, f.column(c, n))
	}
	foot := footer(columns, chunks, int64(n), meta, createdBy)
	f.write(foot)
	f.write(binary.LittleEndian.AppendUint32(nil, uint32(len(foot))))
	f.write([]byte("PAR1"))
	return f.err
}

type file struct {
	w   io.Writer
	at  int64
	err error
}

func (f *file) write(b []byte) {
	if f.err == nil {
		_, f.err = f.w.Write(b)
		f.at += int64(len(b))
	}
}

// chunk is where a column lies in the file.
type chunk struct {
	dictionary, data int64 // offsets; dictionary 0: none
	raw, packed      int64 // bytes
}

func (f *file) column(c *Column, n int) chunk {
	var k chunk
	var index []int
	if c.kind() == typeBytes {
		k.dictionary = f.at
		index = f.dictionary(c, &k)
	}
	k.data = f.at
	for from := 0; from == 0 || from < n; from += pageRows {
		to := min(n, from+pageRows)
		var body []byte
		if c.Optional {
			levels := runs(to-from, func(i int) int {
				if c.null(from + i) {
					return 0
				}
				return 1
			})
			body = binary.LittleEndian.AppendUint32(body, uint32(len(levels)))
			body = append(body, levels...)
		}
		encoding := int64(plain)
		if index != nil || c.kind() == typeBytes {
			encoding = rleDictionary
			var some []int
			for i := from; i < to; i++ {
				if !c.null(i) {
					some = append(some, index[i])
				}
			}
			body = append(body, 8) // bits of an index
			body = append(body, runs(len(some), func(i int) int { return some[i] })...)
		}
		for i := from; i < to && encoding == plain; i++ {
			switch {
			case c.null(i):
			case c.Float64 != nil:
				body = binary.LittleEndian.AppendUint64(body, math.Float64bits(c.Float64[i]))
			default:
				body = binary.LittleEndian.AppendUint32(body, math.Float32bits(c.Float32[i]))
			}
		}
		f.page(&k, dataPage, body, func(t *thrift) {
			t.object(5, func() {
				t.number(1, i32, int64(to-from))
				t.number(2, i32, encoding)
				t.number(3, i32, rle)
				t.number(4, i32, rle)
			})
		})
	}
	return k
}

// dictionary writes the words of a column, each once, and returns which of them
// each row has.
func (f *file) dictionary(c *Column, k *chunk) []int {
	number := map[string]int{}
	index := make([]int, len(c.Words))
	var body []byte
	for i, s := range c.Words {
		if c.null(i) {
			continue
		}
		if _, ok := number[s]; !ok {
			number[s] = len(number)
			body = binary.LittleEndian.AppendUint32(body, uint32(len(s)))
			body = append(body, s...)
		}
		index[i] = number[s]
	}
	if len(number) > 255 && f.err == nil {
		f.err = fmt.Errorf("column %s has %d different words; at most 255 are allowed", c.Name, len(number))
	}
	f.page(k, dictionaryPage, body, func(t *thrift) {
		t.object(7, func() {
			t.number(1, i32, int64(len(number)))
			t.number(2, i32, plain)
		})
	})
	return index
}

func (f *file) page(k *chunk, kind int64, body []byte, header func(t *thrift)) {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	z.Write(body) // a bytes.Buffer takes all
	z.Close()
	var t thrift
	t.number(1, i32, kind)
	t.number(2, i32, int64(len(body)))
	t.number(3, i32, int64(packed.Len()))
	header(&t)
	t.b = append(t.b, 0)
	k.raw += int64(len(t.b) + len(body))
	k.packed += int64(len(t.b) + packed.Len())
	f.write(t.b)
	f.write(packed.Bytes())
}

// runs writes n small numbers as runs of equal ones (the run-length part of the
// format's hybrid encoding, up to 8 bits a number).
func runs(n int, at func(i int) int) []byte {
	var out []byte
	for i := 0; i < n; {
		j := i + 1
		for j < n && at(j) == at(i) {
			j++
		}
		out = binary.AppendUvarint(out, uint64(j-i)<<1)
		out = append(out, byte(at(i)))
		i = j
	}
	return out
}
