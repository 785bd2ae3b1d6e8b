package parquet

import "encoding/binary"

// Types of Thrift's compact protocol, in which Parquet's headers are written.
const (
	i32    = 5
	i64    = 6
	str    = 8
	list   = 9
	object = 12
)

// thrift writes one object after the other; last is the number of the field
// written before in the present one.
type thrift struct {
	b    []byte
	last int
}

func (t *thrift) field(id, kind int) {
	if d := id - t.last; d > 0 && d < 16 {
		t.b = append(t.b, byte(d<<4|kind))
	} else {
		t.b = binary.AppendVarint(append(t.b, byte(kind)), int64(id))
	}
	t.last = id
}

func (t *thrift) number(id, kind int, v int64) {
	t.field(id, kind)
	t.b = binary.AppendVarint(t.b, v) // zigzag, as the protocol has it
}

func (t *thrift) bare(s string) {
	t.b = append(binary.AppendUvarint(t.b, uint64(len(s))), s...)
}

func (t *thrift) text(id int, s string) {
	t.field(id, str)
	t.bare(s)
}

func (t *thrift) object(id int, fill func()) {
	t.field(id, object)
	t.element(fill)
}

// element is an object within a list, or the inside of one.
func (t *thrift) element(fill func()) {
	keep := t.last
	t.last = 0
	fill()
	t.b = append(t.b, 0)
	t.last = keep
}

func (t *thrift) list(id, kind, n int) {
	t.field(id, list)
	if n < 15 {
		t.b = append(t.b, byte(n<<4|kind))
		return
	}
	t.b = binary.AppendUvarint(append(t.b, byte(0xf0|kind)), uint64(n))
}

// footer is the file's FileMetaData.
func footer(columns []Column, chunks []chunk, rows int64, meta []Meta, createdBy string) []byte {
	var t thrift
	t.number(1, i32, 1)
	t.list(2, object, len(columns)+1)
	t.element(func() {
		t.text(4, "table")
		t.number(5, i32, int64(len(columns)))
	})
	total := int64(0)
	for i := range columns {
		c := &columns[i]
		total += chunks[i].raw
		t.element(func() {
			t.number(1, i32, c.kind())
			optional := int64(0)
			if c.Optional {
				optional = 1
			}
			t.number(3, i32, optional)
			t.text(4, c.Name)
			if c.kind() == typeBytes {
				t.number(6, i32, 0) // UTF8, for older readers
				t.object(10, func() { t.object(1, func() {}) })
			}
		})
	}
	t.number(3, i64, rows)
	t.list(4, object, 1)
	t.element(func() {
		t.list(1, object, len(columns))
		for i := range columns {
			t.element(func() { t.chunk(&columns[i], chunks[i], rows) })
		}
		t.number(2, i64, total)
		t.number(3, i64, rows)
	})
	t.list(5, object, len(meta))
	for _, m := range meta {
		t.element(func() {
			t.text(1, m.Key)
			t.text(2, m.Value)
		})
	}
	t.text(6, createdBy)
	return append(t.b, 0)
}

// chunk is the ColumnChunk of one column.
func (t *thrift) chunk(c *Column, k chunk, rows int64) {
	first, encodings := k.data, []int64{plain, rle}
	if k.dictionary > 0 {
		first, encodings = k.dictionary, append(encodings, rleDictionary)
	}
	t.number(2, i64, first)
	t.object(3, func() {
		t.number(1, i32, c.kind())
		t.list(2, i32, len(encodings))
		for _, e := range encodings {
			t.b = binary.AppendVarint(t.b, e)
		}
		t.list(3, str, 1)
		t.bare(c.Name)
		t.number(4, i32, codecGzip)
		t.number(5, i64, rows)
		t.number(6, i64, k.raw)
		t.number(7, i64, k.packed)
		t.number(9, i64, k.data)
		if k.dictionary > 0 {
			t.number(11, i64, k.dictionary)
		}
	})
}
