package report

import (
	"bytes"
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh"
)

func labelsOf(t *testing.T, s *mesh.Scan, seg *segment.Segmentation) string {
	var b bytes.Buffer
	require.NoError(t, WriteLabels(&b, s, seg))
	return b.String()
}

func TestLabelsOfAMesh(t *testing.T) {
	seg := &segment.Segmentation{Surfaces: []segment.Surface{{ID: "P1"}, {ID: "C1"}}, PointSurface: []int32{0, 0, 1, 1, -1, 0}}
	s := &mesh.Scan{
		Offsets:   make([]mesh.Vec32, 6),
		Triangles: [][3]int32{{0, 1, 5}, {0, 1, 2}, {0, 2, 3}, {0, 2, 4}, {2, 4, 3}},
		Source:    mesh.Source{Triangles: 5},
	}
	// All corners agree; two do; two do; none do; two do.
	assert.Equal(t, "P1\nP1\nC1\n-\nC1\n", labelsOf(t, s, seg))

	// The file's items 0 and 4 were dropped on reading.
	s.SourceIndex, s.Source.Triangles = []int32{1, 2, 3, 5, 6}, 7
	assert.Equal(t, "-\nP1\nP1\nC1\n-\n-\nC1\n", labelsOf(t, s, seg))
}

func TestLabelsOfACloud(t *testing.T) {
	seg := &segment.Segmentation{Surfaces: []segment.Surface{{ID: "P1"}, {ID: "S1"}}, PointSurface: []int32{1, -1, 0}}
	s := &mesh.Scan{Offsets: make([]mesh.Vec32, 3), SourceIndex: []int32{0, 2, 3}, Source: mesh.Source{Points: 4}}
	assert.Equal(t, "S1\n-\n-\nP1\n", labelsOf(t, s, seg))
}

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestLabelsReportAWriteError(t *testing.T) {
	seg := &segment.Segmentation{Surfaces: []segment.Surface{{ID: "P1"}}, PointSurface: []int32{0}}
	s := &mesh.Scan{Offsets: make([]mesh.Vec32, 1), Source: mesh.Source{Points: 1}}
	assert.ErrorContains(t, WriteLabels(fullDisk{}, s, seg), "disk full")
}

func TestUnassignedIsByAreaOnAMesh(t *testing.T) {
	seg := &segment.Segmentation{Surfaces: []segment.Surface{{ID: "P1"}}, PointSurface: []int32{0, 0, 0, -1, -1, -1}}
	s := &mesh.Scan{
		Offsets:   []mesh.Vec32{{0, 0, 0}, {3, 0, 0}, {0, 2, 0}, {5, 0, 0}, {6, 0, 0}, {5, 2, 0}},
		Triangles: [][3]int32{{0, 1, 2}, {3, 4, 5}},
	}
	share, ok := unassigned(t.Context(), s, seg)
	require.True(t, ok)
	assert.InDelta(t, 0.25, share, 1e-12) // 1 of 3 + 1 mm²
}
