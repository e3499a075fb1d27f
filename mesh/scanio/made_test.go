package scanio

import (
	"io"
	"path/filepath"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

const made = "../../testdata/made"

// What a person reads about a broken file: one line that names the file, the
// place, the trouble and the remedy.
func TestWhatIsSaidAboutBrokenFiles(t *testing.T) {
	for file, want := range map[string]string{
		"empty.ply":                `PLY: the file is empty: export or copy it again`,
		"cut-short.stl":            `STL byte 174: truncated: 3 facets promised, which take 234 bytes, but the file has 174 bytes: export or copy the file again`,
		"letter.xyz":               `XYZ line 2: no scan of a known format starts with "Dear customer, please fi"...: export the scan as STL, PLY, OBJ, 3MF or XYZ text`,
		"letter-O.stl":             `STL line 6: three numbers must follow vertex: "vertex 30 2O 0": correct the file or export it again`,
		"commas-of-both-kinds.csv": `XYZ: commas separate the columns and may be decimal signs as well: "1,50,2,25,3,00": write decimal points, or separate columns with semicolons`,
		"figure.csv":               `XYZ line 1: the header row names no column z: export points with three coordinates`,
	} {
		path := filepath.Join(made, file)
		_, err := Read(t.Context(), path, Options{})
		assert.EqualError(t, err, path+": "+want)
	}
}

func TestMadeScans(t *testing.T) {
	for _, c := range []struct {
		file      string
		points    []r3.Vector
		normals   bool
		triangles int
		unit      mesh.Unit
		source    mesh.UnitSource
		warnings  []string
	}{
		{file: "decimal-commas.csv", points: []r3.Vector{{X: 10.5}, {Y: 20.25}, {Z: -5.125}}, unit: mesh.Millimetre, source: mesh.UnitAssumed,
			warnings: []string{"The numbers were read with a comma for the decimal sign."}},
		{file: "inches-with-normals.xyz", points: []r3.Vector{{X: 25.4}, {Y: 25.4}, {X: 25.4, Y: 25.4}, {X: 12.7, Y: 12.7}},
			normals: true, unit: mesh.Inch, source: mesh.UnitFile},
		{file: "columns-by-name.csv", points: []r3.Vector{{X: 10, Y: 2, Z: 0.25}, {X: 20, Y: 4, Z: 0.25}, {X: 40, Y: 8, Z: 0.25}},
			normals: true, unit: mesh.Millimetre, source: mesh.UnitFile},
		{file: "ply-named.stl", points: []r3.Vector{{}, {X: 30}, {X: 30, Y: 20}, {Y: 20}}, triangles: 2, unit: mesh.Millimetre, source: mesh.UnitFile,
			warnings: []string{"The file's extension says STL but its content is PLY: read as PLY."}},
	} {
		s, err := Read(t.Context(), filepath.Join(made, c.file), Options{})
		require.NoError(t, err, c.file)
		checkScan(t, s)
		require.Equal(t, len(c.points), s.Len(), c.file)
		for i, p := range c.points {
			assert.InDelta(t, 0, p.Distance(s.Point(i)), 1e-6, c.file)
		}
		assert.Equal(t, c.normals, s.Normals != nil, c.file)
		assert.Len(t, s.Triangles, c.triangles, c.file)
		assert.Equal(t, c.unit, s.Source.Unit, c.file)
		assert.Equal(t, c.source, s.Source.UnitSource, c.file)
		assert.Equal(t, c.warnings, s.Warnings, c.file)
		assert.Equal(t, c.file, s.Source.File)
	}
}

func TestReadPointsOfAFigure(t *testing.T) {
	p, _, err := ReadPoints(t.Context(), filepath.Join(made, "figure.csv"))
	require.NoError(t, err)
	assert.Equal(t, []r3.Vector{{X: 10}, {Y: 10}, {X: -10}, {Y: -10}}, p)
}

// writePLY is WritePLY without more properties.
func writePLY(w io.Writer, s *mesh.Scan) error { return WritePLY(w, s) }
