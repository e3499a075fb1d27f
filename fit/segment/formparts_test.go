package segment_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/mesh/scansim"
)

// formPoints show a face of 3000 mm² every 0.4 mm.
const formPoints = 20_000

// formOf returns the least-squares shape of a face as formed, in the scan's frame, and
// the root mean square of its form, mm; of other faces than planes and cylinders none.
func formOf(t *testing.T, p *scansim.Part, tr *scansim.Truth, f scansim.Face) (scansim.Face, float64) {
	pts := p.Points(f.ID, formPoints/4)
	for i, q := range pts {
		pts[i] = tr.Pose.Apply(q)
	}
	var stats fit.ResidualStats
	switch f.Shape {
	case scansim.Plane:
		got, err := fit.PlaneTo(pts, fit.Options{Start: fit.Plane{Point: f.Point, Normal: f.Axis}})
		require.NoError(t, err)
		f.Point, f.Axis, stats = got.Point, got.Normal, got.Residuals
	case scansim.Cylinder:
		got, err := fit.CylinderTo(pts, fit.Options{Start: fit.Cylinder{Point: f.Point, Axis: f.Axis, Radius: f.Radius}})
		require.NoError(t, err)
		f.Point, f.Axis, f.Radius, stats = got.Point, got.Axis, got.Radius, got.Residuals
	}
	return f, stats.RMS
}
