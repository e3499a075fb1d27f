package segment

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/scansim/trials"
)

// Points strewn over the mesh of a drawing lie exactly on its facets; its round
// walls are found all the same, each as one.
func TestPointsOnFacets(t *testing.T) {
	part := pedestal(t)
	sizes := []int{10_000, 40_000} // the larger one with -tags study
	for _, n := range sizes[:min(2, max(1, trials.Draws(1, 2)))] {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			s := strewn(part, n)
			s, err := mesh.EstimateNormals(t.Context(), s, nil, 0)
			require.NoError(t, err)
			seg, err := Segment(t.Context(), s, Options{})
			require.NoError(t, err)
			// Diameters of the part, testdata/README.md; of the wide walls the
			// chords of the facets take some hundredths.
			for _, want := range []struct {
				diameter float64
				count    int
			}{{120, 1}, {40, 1}, {30, 1}, {19, 1}, {21.95, 1}, {4.5, 4}} {
				count := 0
				for _, c := range seg.Cylinders() {
					if math.Abs(2*c.Radius-want.diameter) < 0.05 {
						count++
					}
				}
				if want.diameter == 21.95 && count == 2 {
					count = 1 // a seat at either end of the bore, on one cylinder: joined or not
				}
				assert.Equal(t, want.count, count, "cylinders of %g mm", want.diameter)
			}
			assert.Less(t, len(seg.Planes()), 40, "no facets of round walls")
		})
	}
}

// strewn returns n points evenly at random on the triangles of a mesh.
func strewn(part *mesh.Scan, n int) *mesh.Scan {
	rng := rand.New(rand.NewPCG(1, 1))
	up := make([]float64, len(part.Triangles))
	sum := 0.0
	corners := func(i int) (a, b, c r3.Vector) {
		t := part.Triangles[i]
		return part.Point(int(t[0])), part.Point(int(t[1])), part.Point(int(t[2]))
	}
	for i := range up {
		a, b, c := corners(i)
		sum += b.Sub(a).Cross(c.Sub(a)).Norm()
		up[i] = sum
	}
	out := &mesh.Scan{}
	for range n {
		i, _ := slices.BinarySearch(up, rng.Float64()*sum)
		a, b, c := corners(i)
		u, v := math.Sqrt(rng.Float64()), rng.Float64()
		p := a.Mul(1 - u).Add(b.Mul(u * (1 - v))).Add(c.Mul(u * v))
		out.Offsets = append(out.Offsets, mesh.Vec32{float32(p.X), float32(p.Y), float32(p.Z)})
	}
	return out
}
