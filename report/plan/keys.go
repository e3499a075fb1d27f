package plan

import (
	_ "embed"
	"reflect"
	"strings"

	"github.com/golang/geo/r1"
)

// Key is a key of the plan file.
type Key struct {
	Path    string // "bolt_circles[].pitch_diameter.nominal"
	Kind    Kind   // what its value is
	Unit    string // of its number: "length" is the plan's own, "same" that of the value beside it
	Example string // empty: it holds further keys
	Says    string // what it means
}

// Kind is what a file has for a key.
type Kind string

// The kinds of values.
const (
	Text     Kind = "text"
	Number   Kind = "number"   // a length in inches may be a fraction, as text
	Estimate Kind = "estimate" // a number, or {value, u} with how sure it is
	Flag     Kind = "flag"     // true or false
	Numbers  Kind = "numbers"  // a list of them
	Names    Kind = "names"    // one or a list of them
	Band     Kind = "band"     // [lower, upper], either infinite, or +-half
	Group    Kind = "group"    // further keys
	Groups   Kind = "groups"   // a list of groups
)

// kindOfField is the kind of a field, by its type.
func kindOfField(f reflect.StructField) Kind {
	switch t := f.Type; {
	case t == reflect.TypeFor[*r1.Interval]():
		return Band
	case t == reflect.TypeFor[*estimate]():
		return Estimate
	case t == reflect.TypeFor[[]float64]():
		return Numbers
	case t == reflect.TypeFor[[]string]():
		return Names
	case t.Kind() == reflect.Slice:
		return Groups
	case f.Tag.Get("word") != "" || t.Kind() == reflect.String || t == reflect.TypeFor[*string]():
		return Text
	case t.Kind() == reflect.Bool:
		return Flag
	case t.Kind() == reflect.Struct,
		t.Kind() == reflect.Pointer && t.Elem().Kind() == reflect.Struct:
		return Group
	}
	return Number
}

// Keys lists every key that a plan file may have, in the order of its sections, as the types
// that it is read into have them.
func Keys() []Key { return keysUnder("", reflect.TypeFor[Plan]()) }

// keysText has a line for each key: its path, an example, and what it means. Where groups have
// a key in common, the end of its path serves all that have no line of their own.
//
//go:embed keys.txt
var keysText string

// notes returns the example of a key and what it means.
func notes(path string) (example, says string) {
	for {
		for line := range strings.Lines(keysText) {
			if f := strings.Split(strings.TrimSpace(line), " | "); f[0] == path && len(f) == 3 {
				return f[1], f[2]
			}
		}
		_, rest, more := strings.Cut(path, ".")
		if !more {
			return "", ""
		}
		path = rest
	}
}

func keysUnder(path string, t reflect.Type) []Key {
	var out []Key
	for _, k := range keysOf(t) {
		at, under, kind := path+k.name, k.field.Type, kindOfField(k.field)
		example, says := notes(at)
		out = append(out, Key{at, kind, k.field.Tag.Get("unit"), example, says})
		if kind != Group && kind != Groups {
			continue
		}
		if under.Kind() == reflect.Slice {
			at += "[]"
		}
		if under.Kind() != reflect.Struct {
			under = under.Elem()
		}
		out = append(out, keysUnder(at+".", under)...)
	}
	return out
}

// key is a field that a file has.
type key struct {
	name  string
	field reflect.StructField
}

// keysOf lists the keys of a struct, in their order.
func keysOf(t reflect.Type) (out []key) {
	if f, ok := reflect.New(t).Interface().(filed); ok {
		t = reflect.TypeOf(f.file()).Elem()
	}
	for _, f := range reflect.VisibleFields(t) {
		if name := f.Tag.Get("yaml"); name != "" {
			out = append(out, key{name, f})
		}
	}
	return out
}

// Depth is how many keys stand above the key.
func (k Key) Depth() int { return strings.Count(k.Path, ".") }

// Name is the key itself.
func (k Key) Name() string { return k.Path[strings.LastIndexByte(k.Path, '.')+1:] }
