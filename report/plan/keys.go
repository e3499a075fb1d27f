package plan

import (
	"reflect"
	"strings"
)

// Key is a key of the plan file.
type Key struct {
	Path    string // "bolt_circles[].pitch_diameter.nominal"
	Unit    string // of its number: "length" is the plan's own, "same" that of the value beside it
	Example string // empty: it holds further keys
	Says    string // what it means
}

// Keys lists every key that a plan file may have, in the order of its sections, as the types
// that it is read into have them.
func Keys() []Key { return keysUnder("", reflect.TypeFor[file]()) }

func keysUnder(path string, t reflect.Type) []Key {
	var out []Key
	for _, k := range keysOf(t) {
		tag := k.field.Tag
		at := path + k.name
		f := bare(k.field.Type)
		list := f.Kind() == reflect.Slice
		out = append(out, Key{at, tag.Get("unit"), tag.Get("eg"), tag.Get("say")})
		if list {
			at, f = at+"[]", bare(f.Elem())
		}
		if !isValue(f) {
			out = append(out, keysUnder(at+".", f)...)
		}
	}
	return out
}

// Depth is how many keys stand above the key.
func (k Key) Depth() int { return strings.Count(k.Path, ".") }

// Name is the key itself.
func (k Key) Name() string { return k.Path[strings.LastIndexByte(k.Path, '.')+1:] }
