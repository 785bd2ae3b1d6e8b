// Command swathe-parquet writes a table as Apache Parquet for swathe, which
// starts it: the table comes on its standard input (cmd/internal/columns), the
// file leaves on its standard output.
package main

import (
	"bufio"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"reflect"

	"github.com/parquet-go/parquet-go"

	"swathe/report"
)

func main() {
	if len(os.Args) > 1 {
		fmt.Fprintln(os.Stderr, "swathe-parquet is started by swathe; see: swathe export --help")
		os.Exit(2)
	}
	if err := run(os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(in io.Reader, out io.Writer) error {
	var t report.ColumnTable
	if err := gob.NewDecoder(bufio.NewReader(in)).Decode(&t); err != nil {
		return err
	}
	return write(out, t)
}

// write writes the table: numbers as they are, words as a dictionary, gzip.
func write(out io.Writer, t report.ColumnTable) error {
	if len(t.Columns) == 0 {
		return errors.New("a table needs a column")
	}
	// A struct keeps its columns in order, which a parquet.Group sorts by name.
	var fields []reflect.StructField
	for i, c := range t.Columns {
		f := reflect.StructField{Name: fmt.Sprintf("C%d", i), Type: reflect.TypeFor[float32]()}
		tag := c.Name
		switch c.Kind {
		case report.ColumnDouble:
			f.Type = reflect.TypeFor[float64]()
		case report.ColumnWords:
			f.Type = reflect.TypeFor[string]()
			tag += ",dict"
		}
		if c.Optional {
			tag += ",optional"
		}
		f.Tag = reflect.StructTag(fmt.Sprintf(`parquet:"%s"`, tag))
		fields = append(fields, f)
	}
	row := reflect.New(reflect.StructOf(fields)).Elem()
	options := []parquet.WriterOption{parquet.NewSchema("table", parquet.SchemaOf(row.Interface())),
		parquet.Compression(&parquet.Gzip), parquet.CreatedBy("swathe", "", "")}
	for _, m := range t.Meta {
		options = append(options, parquet.KeyValueMetadata(m[0], m[1]))
	}
	w := parquet.NewWriter(out, options...)
	n := t.Rows()
	var cells parquet.Row
	for i := range n {
		cells = cells[:0]
		for k, c := range t.Columns {
			if c.Rows() != n {
				return fmt.Errorf("column %s has %d rows, %s has %d", c.Name, c.Rows(), t.Columns[0].Name, n)
			}
			v, null := parquet.Value{}, false
			switch c.Kind {
			case report.ColumnWords:
				v, null = parquet.ByteArrayValue([]byte(c.Words[i])), c.Words[i] == ""
			case report.ColumnDouble:
				v, null = parquet.DoubleValue(c.Numbers[i]), math.IsNaN(c.Numbers[i])
			default:
				v, null = parquet.FloatValue(float32(c.Numbers[i])), math.IsNaN(c.Numbers[i])
			}
			switch {
			case !c.Optional:
				v = v.Level(0, 0, k)
			case null:
				v = parquet.NullValue().Level(0, 0, k)
			default:
				v = v.Level(0, 1, k)
			}
			cells = append(cells, v)
		}
		if _, err := w.WriteRows([]parquet.Row{cells}); err != nil {
			return err
		}
	}
	return w.Close()
}
