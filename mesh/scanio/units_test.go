package scanio

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
)

func TestUnitStatedInTheFile(t *testing.T) {
	ply := func(comment string) string {
		return "ply\nformat ascii 1.0\n" + comment + "element vertex 2\nproperty float x\nproperty float y\nproperty float z\nend_header\n2 0 0\n0 4 0\n"
	}
	facet := "facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 2 0 0\nvertex 0 4 0\nendloop\nendfacet\nendsolid\n"
	for _, c := range []struct {
		file string
		unit mesh.Unit
	}{
		{"# unit: in\n2 0 0\n0 4 0\n", mesh.Inch},
		{"# Units = inches\n2 0 0\n0 4 0\n", mesh.Inch},
		{"// units are feet\n2 0 0\n0 4 0\n", mesh.Foot},
		{"x [mm],y [mm],z [mm]\n2,0,0\n0,4,0\n", mesh.Millimetre},
		{"X(in);Y(in);Z(in)\n2;0;0\n0;4;0\n", mesh.Inch},
		{"x,y,z\n[in],[in],[in]\n2,0,0\n0,4,0\n", mesh.Inch},
		{"x y z\nmm mm mm\n2 0 0\n0 4 0\n", mesh.Millimetre},
		{"name,x_cm,y_cm,z_cm\na,2,0,0\nb,0,4,0\n", mesh.Centimetre},
		{"#File units: Millimeters\nv 2 0 0\nv 0 4 0\nv 1 1 0\nf 1 2 3\n", mesh.Millimetre},
		{"# unit: 1 mm\n2 0 0\n0 4 0\n", mesh.Millimetre},
		{"# unit in\n# made by hand\n2 0 0\n0 4 0\n", mesh.Inch},
		{"# unit metre\no part\nv 2 0 0\nv 0 4 0\nv 1 1 0\nf 1 2 3\n", mesh.Metre},
		{ply("comment units mm\n"), mesh.Millimetre},
		{ply("obj_info unit is cm\n"), mesh.Centimetre},
		{"solid part units=inch\n" + facet, mesh.Inch},
		{"solid part made in 1999\n" + facet, ""},
		{"# united we stand\n2 0 0\n0 4 0\n", ""},
		{"# 12 units made\n2 0 0\n0 4 0\n", ""},
		{"# a unit inspected\n2 0 0\n0 4 0\n", ""},
		{"2 0 0\n0 4 0\n# unit: in\n", ""}, // behind the data: another's remark
		{ply(""), ""},
	} {
		name := c.file[:min(len(c.file), 40)]
		s, err := readText(t, "", c.file, Options{})
		require.NoError(t, err, name)
		want := mesh.Source{Unit: c.unit, UnitSource: mesh.UnitFile}
		if c.unit == "" {
			want = mesh.Source{Unit: mesh.Millimetre, UnitSource: mesh.UnitAssumed}
		}
		assert.Equal(t, want.Unit, s.Source.Unit, name)
		assert.Equal(t, want.UnitSource, s.Source.UnitSource, name)
		mm, err := want.Unit.Millimetres()
		require.NoError(t, err)
		lo, hi := s.Bounds()
		assert.InDelta(t, 2*mm, hi.X-lo.X, 1e-4, name)
		assert.InDelta(t, 4*mm, hi.Y-lo.Y, 1e-4, name)
		if c.unit != "" {
			assert.Empty(t, s.Warnings, name)
		}
	}
}

func TestUnitGiven(t *testing.T) {
	s, err := readText(t, "c.xyz", "# unit: in\n1 0 0\n0 1 0\n", Options{Unit: mesh.Metre})
	require.NoError(t, err)
	assert.Equal(t, mesh.Metre, s.Source.Unit)
	assert.Equal(t, mesh.UnitGiven, s.Source.UnitSource)
	assert.Equal(t, []string{`The file says "unit: in" but the unit given is m, which was used.`}, s.Warnings)
	assert.InDelta(t, 1000, s.Point(0).X, 1e-4)

	_, err = readText(t, "c.xyz", "1 0 0\n", Options{Unit: "furlong"})
	assert.ErrorContains(t, err, `unit "furlong" is not known`)
}

func TestUnitNotRead(t *testing.T) {
	s, err := readText(t, "c.xyz", "# units: microns\n2000 0 0\n0 4000 0\n", Options{})
	require.NoError(t, err)
	assert.Equal(t, mesh.UnitAssumed, s.Source.UnitSource)
	assert.Equal(t, []string{`The file says "units: microns", a unit that is not read here, and millimetres are assumed: convert it, or give the unit.`}, s.Warnings)
}

func TestUnitHints(t *testing.T) {
	for _, c := range []struct {
		size float64
		hint string
	}{
		{0.2, "if the numbers are metres it is 200 mm"},
		{6, "if the numbers are inches it is 152 mm"},
		{50, ""},
		{900, ""},
		{90000, "smaller than any that can be given here"},
	} {
		s := &mesh.Scan{Offsets: []mesh.Vec32{{0, 0, 0}, {float32(c.size), 0, 0}, {0, 0, 0.001}}}
		var text strings.Builder
		require.NoError(t, xyzText(&text, s))
		_, body, _ := strings.Cut(text.String(), "\n") // without the unit
		got, err := readText(t, "c.xyz", body, Options{})
		require.NoError(t, err)
		if c.hint == "" {
			assert.Empty(t, got.Warnings, c.size)
			continue
		}
		require.Len(t, got.Warnings, 1, c.size)
		assert.Contains(t, got.Warnings[0], c.hint)
		// Nothing is rescaled for a hint.
		_, hi := got.Bounds()
		assert.InDelta(t, c.size, hi.X, 1e-6*c.size)

		got, err = readText(t, "c.xyz", body, Options{Unit: mesh.Millimetre})
		require.NoError(t, err)
		assert.Empty(t, got.Warnings, "no hint where the unit is given")
	}
}
