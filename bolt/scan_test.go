package bolt

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
)

// simulate makes a fused mesh of p and divides it by its true labels, so that
// what is tested is this package alone. Points of edges belong to nothing, but
// planes take what lies within three times the noise, as a segmentation would.
func simulate(t *testing.T, p *scansim.Part, opt scansim.FusedOptions) (*mesh.Scan, *segment.Segmentation, scansim.Truth) {
	t.Helper()
	s, truth, err := scansim.Fused(t.Context(), p, opt)
	require.NoError(t, err)
	seg, err := labelled(s, truth)
	require.NoError(t, err)
	return s, seg, truth
}

// found makes a fused mesh of p and divides it as a user's scan is.
func found(t *testing.T, p *scansim.Part, opt scansim.FusedOptions) (*mesh.Scan, *segment.Segmentation, scansim.Truth) {
	t.Helper()
	s, truth, err := scansim.Fused(t.Context(), p, opt)
	require.NoError(t, err)
	s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
	require.NoError(t, err)
	seg, err := segment.Segment(t.Context(), s, segment.Options{})
	require.NoError(t, err)
	return s, seg, truth
}

// labelled divides a simulated scan by its true labels.
func labelled(s *mesh.Scan, truth scansim.Truth) (*segment.Segmentation, error) {
	of := make([]uint16, s.Len())
	mixed := make([]bool, s.Len())
	if s.IsMesh() {
		for k, tri := range s.Triangles {
			for _, i := range tri {
				mixed[i] = mixed[i] || of[i] != 0 && of[i] != truth.Labels[k]
				of[i] = truth.Labels[k]
			}
		}
	} else {
		copy(of, truth.Labels)
	}
	points := map[uint16][]int32{}
	for i, l := range of {
		if l != 0 && l != scansim.LabelOutlier && !mixed[i] {
			points[l] = append(points[l], int32(i))
		}
	}
	seg := &segment.Segmentation{Noise: max(truth.Noise, 1e-6), Spacing: spacingOf(s)}
	count := map[string]int{}
	nextID := func(letter string) string {
		count[letter]++
		return fmt.Sprint(letter, count[letter])
	}
	for _, f := range truth.Faces {
		idx := points[f.ID]
		if len(idx) < 20 {
			continue
		}
		switch f.Shape {
		case scansim.Plane:
			pf, err := fit.PlaneTo(pointsOf(s, idx), fit.Options{})
			if err != nil {
				return nil, err
			}
			if pf.Normal.Dot(f.Axis) < 0 {
				pf.Normal = pf.Normal.Mul(-1)
			}
			in := map[int32]bool{}
			for _, i := range idx {
				in[i] = true
			}
			pl := segment.Surface{ID: nextID("P"), Fit: pf}
			for i := range s.Len() {
				if in[int32(i)] || of[i] == 0 && math.Abs(pf.Distance(s.Point(i))) < 3*truth.Noise {
					pl.Points = append(pl.Points, int32(i))
				}
			}
			seg.Surfaces = append(seg.Surfaces, pl)
		case scansim.Cylinder:
			seg.Surfaces = append(seg.Surfaces, segment.Surface{ID: nextID("C"), Points: idx,
				Fit:      fit.CylinderFit{Cylinder: fit.Cylinder{Point: f.Point, Axis: f.Axis, Radius: f.Radius}},
				Internal: f.Internal, Arc: s1.Angle(2 * math.Pi)})
		}
	}
	return numbered(seg, s), nil
}

// numbered says of each point and triangle which surface it belongs to.
func numbered(seg *segment.Segmentation, s *mesh.Scan) *segment.Segmentation {
	seg.PointSurface = slices.Repeat([]int32{-1}, s.Len())
	seg.TriangleSurface = make([]int32, len(s.Triangles))
	for k, u := range seg.Surfaces {
		for _, i := range u.Points {
			seg.PointSurface[i] = int32(k)
		}
	}
	for k, t := range s.Triangles { // that of two corners
		a, b, c := seg.PointSurface[t[0]], seg.PointSurface[t[1]], seg.PointSurface[t[2]]
		if a != b && a != c {
			a = -1
			if b == c {
				a = b
			}
		}
		seg.TriangleSurface[k] = a
	}
	return seg
}

// withoutWalls takes the cylinders out of a segmentation.
func withoutWalls(seg *segment.Segmentation, s *mesh.Scan) {
	seg.Surfaces = slices.DeleteFunc(seg.Surfaces, func(u segment.Surface) bool { return u.Fit.Kind() == fit.KindCylinder })
	numbered(seg, s)
}

// spacingOf is the mean edge of a mesh, or 1/√density of a cloud.
func spacingOf(s *mesh.Scan) float64 {
	if !s.IsMesh() {
		return 0.3
	}
	var sum float64
	for _, t := range s.Triangles {
		sum += s.Point(int(t[0])).Distance(s.Point(int(t[1]))) / float64(len(s.Triangles))
	}
	return sum
}

// matched pairs the measured holes with true ones of their kind by place. It fails the
// test for one that is not there, and returns the names of the round ones missed.
func matched(t *testing.T, m *Measurement, truth scansim.Truth) (byID map[string]scansim.Hole, missed []string) {
	t.Helper()
	byID = map[string]scansim.Hole{}
	used := map[string]bool{}
	for _, h := range m.Holes {
		found := h.Kind == Rectangle // pockets are none of the truth's holes
		for _, q := range truth.Holes {
			if q.Kind == string(h.Kind) && !used[q.Name] && q.Centre.Distance(h.Centre) < 0.3 {
				byID[h.ID], used[q.Name], found = q, true, true
			}
		}
		if !found {
			t.Errorf("hole %s (%s, %.2f mm) is not there", h.ID, h.From, h.Diameter)
		}
	}
	for _, q := range truth.Holes {
		if q.Kind == "round" && !used[q.Name] {
			missed = append(missed, q.Name)
		}
	}
	return byID, missed
}
