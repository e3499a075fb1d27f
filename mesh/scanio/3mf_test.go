package scanio

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

// pack makes a package of parts: name, contents, name, contents.
func pack(tb testing.TB, parts ...string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(parts); i += 2 {
		w, err := z.Create(parts[i])
		require.NoError(tb, err)
		_, err = w.Write([]byte(parts[i+1]))
		require.NoError(tb, err)
	}
	require.NoError(tb, z.Close())
	return b.Bytes()
}

const (
	mf3Rels = `<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` +
		`<Relationship Id="r0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel" Target="/3D/part.model"/></Relationships>`
	// A tetrahedron of volume 1/6 with its right angle at the origin.
	mf3Mesh = `<mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="1" y="0" z="0"/><vertex x="0" y="1" z="0"/><vertex x="0" y="0" z="1"/></vertices>` +
		`<triangles><triangle v1="0" v2="2" v3="1"/><triangle v1="0" v2="1" v3="3"/><triangle v1="0" v2="3" v3="2"/><triangle v1="1" v2="2" v3="3"/></triangles></mesh>`
)

// model3MF packs a model with a unit, the objects and the build.
func model3MF(tb testing.TB, attributes, objects, build string) []byte {
	return pack(tb, "[Content_Types].xml", "<Types/>", "_rels/.rels", mf3Rels, "3D/part.model",
		"<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<model "+attributes+` xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">`+
			"\n<metadata name=\"Title\">t</metadata>\n<resources>"+objects+"</resources>\n<build>"+build+"</build>\n</model>")
}

func TestRead3MF(t *testing.T) {
	object := `<object id="1" type="model">` + mf3Mesh + `</object>`
	pair := object + `<object id="2"><components><component objectid="1"/>` +
		// x and y change places, which mirrors, and 10 is added to x
		`<component objectid="1" transform="0 1 0 1 0 0 0 0 1 10 0 0"/></components></object>`
	for _, c := range []struct {
		name, attributes, objects, build string
		unit                             mesh.Unit
		points                           []r3.Vector // of the first tetrahedron, then of the second
		warnings                         int
	}{
		{"one object, no unit", "", object, `<item objectid="1"/>`, mesh.Millimetre, []r3.Vector{{}, {X: 1}, {Y: 1}, {Z: 1}}, 0},
		{"inches", `unit="inch"`, object, `<item objectid="1"/>`, mesh.Inch, []r3.Vector{{}, {X: 25.4}, {Y: 25.4}, {Z: 25.4}}, 0},
		{"microns", `unit="micron"`, object, `<item objectid="1"/>`, mesh.Millimetre, []r3.Vector{{}, {X: 1e-3}, {Y: 1e-3}, {Z: 1e-3}}, 0},
		{"an item moved, turned about z", `unit="millimeter"`, object, `<item objectid="1" transform="0 1 0 -1 0 0 0 0 1 5 6 7"/>`,
			mesh.Millimetre, []r3.Vector{{X: 5, Y: 6, Z: 7}, {X: 5, Y: 7, Z: 7}, {X: 4, Y: 6, Z: 7}, {X: 5, Y: 6, Z: 8}}, 0},
		{"components within a moved item", `unit="centimeter"`, pair, `<item objectid="2" transform="2 0 0 0 2 0 0 0 2 0 0 3"/>`,
			mesh.Centimetre, []r3.Vector{{Z: 30}, {X: 20, Z: 30}, {Y: 20, Z: 30}, {Z: 50},
				{X: 200, Z: 30}, {X: 200, Y: 20, Z: 30}, {X: 220, Z: 30}, {X: 200, Z: 50}}, 0},
		{"what the build leaves out is not there", "", pair, `<item objectid="1"/>`, mesh.Millimetre, []r3.Vector{{}, {X: 1}, {Y: 1}, {Z: 1}}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := readBytes(t, model3MF(t, c.attributes, c.objects, c.build), "part.3mf", blockSize, Options{})
			require.NoError(t, err)
			checkScan(t, s)
			assert.Equal(t, "3mf", s.Source.Format)
			assert.Equal(t, c.unit, s.Source.Unit)
			assert.Equal(t, mesh.UnitFile, s.Source.UnitSource)
			assert.Empty(t, s.Warnings)
			assert.Equal(t, mesh.Removed{}, s.Removed, "mirrored objects are wound as the others")
			require.Equal(t, len(c.points), s.Len())
			for i, p := range c.points {
				assert.InDelta(t, 0, p.Distance(s.Point(i)), 1e-5, "point %d", i)
			}
			assert.Len(t, s.Triangles, len(c.points))
		})
	}
}

func Test3MFErrors(t *testing.T) {
	object := `<object id="1">` + mf3Mesh + `</object>`
	item := `<item objectid="1"/>`
	for _, c := range []struct {
		name string
		file []byte
		what string
		line int
	}{
		{"no model", pack(t, "_rels/.rels", mf3Rels), "no ZIP archive with a 3D model part", 0},
		{"another archive", pack(t, "a.stl", "solid"), "no ZIP archive with a 3D model part", 0},
		{"cut short", model3MF(t, "", object, item)[:700], "no ZIP archive", 0},
		{"an extension", model3MF(t, `requiredextensions="p"`, object, item), `extensions that are not read here: "p"`, 2},
		{"a unit of its own", model3MF(t, `unit="cubit"`, object, item), `the unit "cubit"`, 2},
		{"a letter in a number", model3MF(t, "", strings.Replace(object, `z="1"`, `z="l"`, 1), item), `z of a vertex is not a number of its kind: "l"`, 4},
		{"a coordinate missing", model3MF(t, "", strings.Replace(object, `z="1"`, "", 1), item), `a vertex has no z`, 4},
		{"a corner that is none", model3MF(t, "", strings.Replace(object, `v3="1"`, `v3="-1"`, 1), item), "v3 of a triangle", 4},
		{"a short transform", model3MF(t, "", object, `<item objectid="1" transform="1 0 0"/>`), "12 numbers, this has 3", 5},
		{"no such object", model3MF(t, "", object, `<item objectid="7"/>`), `no object has the id "7"`, 0},
		{"an empty build", model3MF(t, "", object, ""), "the build has no object", 0},
		{"a component of itself", model3MF(t, "", `<object id="1"><components><component objectid="1"/></components></object>`, item), "hold themselves", 0},
		{"broken XML", model3MF(t, "", object+"<", item), "3D model part", 4},
		{"XML of another kind", pack(t, "_rels/.rels", mf3Rels, "3D/part.model", "<svg/>"), "expected element type <model> but have <svg>", 1},
		{"nothing in it", pack(t, "_rels/.rels", mf3Rels, "3D/part.model", ""), "it is empty", 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := readBytes(t, c.file, "part.3mf", blockSize, Options{})
			var bad *FormatError
			require.True(t, errors.As(err, &bad), "%v", err)
			assert.ErrorContains(t, err, "part.3mf: 3MF")
			assert.ErrorContains(t, err, c.what)
			assert.Equal(t, c.line, bad.Line, err.Error())
			assert.NotEmpty(t, bad.Fix)
		})
	}
	_, err := readBytes(t, pack(t, "a.stl", "solid"), "scan.zip", blockSize, Options{})
	assert.ErrorContains(t, err, "a ZIP archive, not a scan that can be read here: unpack it")
}

// Archives that are small and make much are refused before they do.
func Test3MFLimits(t *testing.T) {
	object := `<object id="0">` + mf3Mesh + `</object>`
	bomb := object
	for i := 1; i <= 30; i++ { // each holds the one before twice
		bomb += fmt.Sprintf(`<object id="%d"><components><component objectid="%d"/><component objectid="%[2]d"/></components></object>`, i, i-1)
	}
	for what, file := range map[string][]byte{
		"or repeat more often":           model3MF(t, "", bomb, `<item objectid="30"/>`),
		"unpacks to more than 100 times": model3MF(t, "", object+strings.Repeat("<a/>", 1<<18), `<item objectid="0"/>`),
	} {
		_, err := readBytes(t, file, "part.3mf", blockSize, Options{})
		assert.ErrorContains(t, err, what)
	}
}

func TestReadPointsOf3MF(t *testing.T) {
	in := newInput(bytes.NewReader(model3MF(t, `unit="foot"`, `<object id="1">`+mf3Mesh+`</object>`, `<item objectid="1"/>`)), 0, "a.3mf")
	in.size, in.flat = int64(in.r.(*bytes.Reader).Len()), true
	require.NoError(t, in.decode(t.Context(), Options{}))
	pts, err := in.points()
	require.NoError(t, err)
	assert.Equal(t, []r3.Vector{{}, {X: 1}, {Y: 1}, {Z: 1}}, pts)
}
