package batch

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"
)

// WriteJSON writes the summary as indented JSON.
func WriteJSON(w io.Writer, s *Summary) error {
	b, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return fmt.Errorf("batch: %w", err)
	}
	_, err = w.Write(append(b, '\n'))
	return err
}

// WriteCSV writes a row for each characteristic. Columns are named as in JSON, the fields of an
// object after its name: capability_cpk. A list is given by its length.
func WriteCSV(w io.Writer, s *Summary) error {
	out := csv.NewWriter(w)
	out.Write(columns(reflect.TypeFor[Characteristic](), ""))
	for i := range s.Characteristics {
		out.Write(values(reflect.ValueOf(s.Characteristics[i])))
	}
	out.Flush()
	return out.Error() // the first error of any write above
}

func shown(f reflect.StructField) bool { return f.IsExported() && f.Tag.Get("json") != "-" }

func columns(t reflect.Type, name string) (out []string) {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct {
		return []string{name}
	}
	for i := range t.NumField() {
		if f := t.Field(i); shown(f) {
			own, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			out = append(out, columns(f.Type, strings.TrimPrefix(name+"_"+own, "_"))...)
		}
	}
	return out
}

func values(v reflect.Value) (out []string) {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return make([]string, len(columns(v.Type(), "")))
		}
		return values(v.Elem())
	case reflect.Struct:
		for i := range v.NumField() {
			if shown(v.Type().Field(i)) {
				out = append(out, values(v.Field(i))...)
			}
		}
		return out
	case reflect.Slice:
		return []string{strconv.Itoa(v.Len())}
	case reflect.Float64:
		return []string{strconv.FormatFloat(v.Float(), 'g', 8, 64)}
	}
	return []string{fmt.Sprint(v.Interface())}
}
