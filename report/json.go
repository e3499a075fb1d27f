package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"regexp"
	"strings"
)

// WriteJSON writes a report, or what else is to be read by programs, as indented JSON. It
// refuses a number which is not finite, and says where, before anything is written.
func WriteJSON(w io.Writer, v any) error {
	if err := finite(reflect.ValueOf(v), ""); err != nil {
		return err
	}
	b, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return fmt.Errorf("report: %w", err)
	}
	_, err = w.Write(append(oneLineLists(b), '\n'))
	return err
}

// oneLineLists puts lists of nothing but numbers, such as points, on one line. A
// string cannot hold the line breaks that it looks for.
func oneLineLists(b []byte) []byte {
	list := regexp.MustCompile(`\[\n\s+[-+.0-9eE]+(?:,\n\s+[-+.0-9eE]+)*\n\s+\]`)
	space := regexp.MustCompile(`\n\s+`)
	return list.ReplaceAllFunc(b, func(l []byte) []byte {
		l = bytes.ReplaceAll(l, []byte(",\n"), []byte(", \n"))
		return space.ReplaceAll(l, nil)
	})
}

// ReadJSON reads a report that WriteJSON wrote. Unknown names are ignored, so
// that a later version's additions do no harm; another schema is an error.
func ReadJSON(r io.Reader) (*Report, error) {
	var rep Report
	if err := json.NewDecoder(r).Decode(&rep); err != nil {
		return nil, fmt.Errorf("report: not a readable report: %w", err)
	}
	if rep.Schema != Schema {
		return nil, fmt.Errorf("report: schema is %q, need %q: measure the scan again with this version",
			rep.Schema, Schema)
	}
	if j := rep.JointCovariance; j != nil && !j.sound() {
		return nil, errors.New("report: joint_covariance is not square: the report was damaged, " +
			"measure the scan again")
	}
	return &rep, nil
}

// NotFiniteError says which number of a report is not finite.
type NotFiniteError struct{ Path string }

func (e *NotFiniteError) Error() string {
	return fmt.Sprintf("report: %s is not a finite number: this is a fault of the program, "+
		"please report it with the scan", e.Path)
}

// Finite returns a *NotFiniteError where the report holds a number that is not finite.
func (rep *Report) Finite() error { return finite(reflect.ValueOf(rep), "") }

// finite walks v and returns an error that names the first number which is NaN
// or infinite.
func finite(v reflect.Value, path string) error {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			return finite(v.Elem(), path)
		}
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			return &NotFiniteError{Path: strings.TrimPrefix(path, ".")}
		}
	case reflect.Slice, reflect.Array, reflect.Map:
		for k, item := range v.Seq2() {
			if err := finite(item, fmt.Sprintf("%s[%v]", path, k)); err != nil {
				return err
			}
		}
	case reflect.Struct:
		for f, field := range v.Fields() {
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			if err := finite(field, path+"."+name); err != nil && f.IsExported() {
				return err
			}
		}
	}
	return nil
}
