package batch

import (
	"encoding/csv"
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"
)

// WriteCSV writes a row for each characteristic. Columns are named as in JSON, the fields of an
// object after its name: capability_cpk. A list is given by its length.
func WriteCSV(w io.Writer, s *Summary) error {
	out := csv.NewWriter(w)
	var names []string
	columns(reflect.TypeFor[Characteristic](), reflect.Value{}, "",
		func(name, _ string) { names = append(names, name) })
	out.Write(names)
	for i := range s.Characteristics {
		var row []string
		c := reflect.ValueOf(s.Characteristics[i])
		columns(c.Type(), c, "", func(_, value string) { row = append(row, value) })
		out.Write(row)
	}
	out.Flush()
	return out.Error() // the first error of any write above
}

// columns visits the columns that a value of type t fills, empty where v is not valid.
func columns(t reflect.Type, v reflect.Value, name string, visit func(name, value string)) {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
		if v.IsValid() {
			v = v.Elem() // not valid where it is nil
		}
	}
	switch {
	case t.Kind() == reflect.Struct:
		for i := range t.NumField() {
			f, of := t.Field(i), reflect.Value{}
			own, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			if !f.IsExported() || own == "-" {
				continue
			}
			if v.IsValid() {
				of = v.Field(i)
			}
			columns(f.Type, of, strings.TrimPrefix(name+"_"+own, "_"), visit)
		}
	case !v.IsValid():
		visit(name, "")
	case t.Kind() == reflect.Slice:
		visit(name, strconv.Itoa(v.Len()))
	case t.Kind() == reflect.Float64:
		visit(name, strconv.FormatFloat(v.Float(), 'g', 8, 64))
	default:
		visit(name, fmt.Sprint(v.Interface()))
	}
}
