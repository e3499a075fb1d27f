package scanio

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Files put together from the words of each format, in any order, are read or
// refused as checkRead asks.
func TestReadOddFiles(t *testing.T) {
	number := rapid.SampledFrom([]string{"0", "1", "2", "3", "-1", "-2", "5", "1e9", "nan", "0.5", "x", "1e400", "-0", ""})
	small := rapid.SampledFrom([]string{"1", "2", "3", "-1", "-2", "-3", "4", "0", "9", "1", "2", "3"})
	words := func(t *rapid.T, g *rapid.Generator[string], most int) string {
		return strings.Join(rapid.SliceOfN(g, 0, most).Draw(t, "words"), " ")
	}
	end := rapid.SampledFrom([]string{"\n", "\n", "\n", "\r\n", " \\\n", "\n\n", " # c\n", ""})

	odd := func(name string, line func(t *rapid.T) string) {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				var b strings.Builder
				for range rapid.IntRange(0, 12).Draw(rt, "lines") {
					b.WriteString(line(rt))
					b.WriteString(end.Draw(rt, "end"))
				}
				checkRead(t, []byte(b.String()), "odd."+name)
			})
		})
	}
	odd("obj", func(t *rapid.T) string {
		switch rapid.IntRange(0, 5).Draw(t, "kind") {
		case 0, 1:
			return "v " + small.Draw(t, "x") + " " + small.Draw(t, "y") + " " + small.Draw(t, "z")
		case 2, 3:
			return "f " + words(t, small, 16)
		case 4:
			return "f " + words(t, rapid.Custom(func(t *rapid.T) string {
				return small.Draw(t, "v") + rapid.SampledFrom([]string{"/", "//", "/1/", ""}).Draw(t, "slash") + small.Draw(t, "vn")
			}), 5)
		default:
			return rapid.SampledFrom([]string{"v ", "vn ", "vt ", "g ", "odd ", ""}).Draw(t, "word") + words(t, number, 4)
		}
	})
	odd("xyz", func(t *rapid.T) string {
		sep := rapid.SampledFrom([]string{" ", ",", ";", "\t", ", "}).Draw(t, "separator")
		field := rapid.SampledFrom([]string{"1", "2.5", "-3", "1,5", "", "nan", "x", "y", "z", "nx", "\"a b\"", "0.6", "0.8"})
		return strings.Join(rapid.SliceOfN(field, 0, 7).Draw(t, "fields"), sep)
	})
	odd("stl", func(t *rapid.T) string {
		return rapid.SampledFrom([]string{
			"solid a", "facet normal 0 0 1", "outer loop", "vertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0", "vertex 1 0 0",
			"endloop\nendfacet", "endfacet", "endsolid a", "facet\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendfacet", "end facet", "FACET",
		}).Draw(t, "words")
	})

	kinds := rapid.SampledFrom([]string{"char", "uchar", "short", "ushort", "int", "uint", "float", "double", "uint64"})
	t.Run("ply", func(t *testing.T) {
		rapid.Check(t, func(rt *rapid.T) {
			var b strings.Builder
			fmt.Fprintf(&b, "ply\nformat %s 1.0\n", rapid.SampledFrom([]string{"ascii", "binary_little_endian", "binary_big_endian"}).Draw(rt, "format"))
			for _, name := range rapid.SliceOfN(rapid.SampledFrom([]string{"vertex", "face", "extra", "vertex"}), 1, 4).Draw(rt, "elements") {
				fmt.Fprintf(&b, "element %s %d\n", name, rapid.IntRange(0, 6).Draw(rt, "n"))
				switch name {
				case "vertex":
					for _, p := range rapid.Permutation([]string{"x", "y", "z"}).Draw(rt, "order") {
						fmt.Fprintf(&b, "property %s %s\n", kinds.Draw(rt, "kind"), p)
					}
				case "face":
					fmt.Fprintf(&b, "property list %s %s vertex_indices\n", kinds.Draw(rt, "count"), kinds.Draw(rt, "kind"))
				}
				if rapid.Bool().Draw(rt, "more") {
					fmt.Fprintf(&b, "property list uchar %s more\n", kinds.Draw(rt, "kind"))
				}
			}
			b.WriteString("end_header\n")
			if rapid.Bool().Draw(rt, "text") {
				for range rapid.IntRange(0, 20).Draw(rt, "lines") {
					b.WriteString(words(rt, rapid.SampledFrom([]string{"0", "1", "2", "3", "3", "4", "-1"}), 8) + "\n")
				}
			} else {
				b.Write(rapid.SliceOfN(rapid.SampledFrom([]byte{0, 0, 1, 2, 3, 3, 4, 63, 128, 255}), 0, 300).Draw(rt, "body"))
			}
			checkRead(t, []byte(b.String()), "odd.ply")
		})
	})
}
