package report_test

import (
	"math"
	"slices"

	"github.com/golang/geo/s1"

	"spotface/mesh/scansim"
	"spotface/report"
)

// faceOf returns the part's face of a role.
func faceOf(truth scansim.Truth, role string) scansim.Face {
	return truth.Faces[slices.IndexFunc(truth.Faces, func(f scansim.Face) bool { return f.Role == role })]
}

// surfaces judges the intervals of the bore, where the scan shows one, and of the
// mounting face.
func (c *wholeCount) surfaces(rep *report.Report, truth scansim.Truth) {
	bore, face := faceOf(truth, "bore"), faceOf(truth, "mounting")
	for _, k := range rep.Cylinders {
		if rep.Bore == nil || k.ID != rep.Bore.ID {
			continue
		}
		lean := s1.Angle(math.Asin(k.Axis.R3().Cross(bore.Axis).Norm()))
		c.boreAxis.add(lean.Degrees(), k.Uncertainty.AxisDeg)
		c.borePoint.add(k.Point.R3().Sub(bore.Point).Cross(bore.Axis).Norm(), k.Uncertainty.Point)
		c.boreDiameter.add(k.Diameter-2*bore.Radius, k.Uncertainty.Diameter)
	}
	for _, p := range rep.Planes {
		if rep.Frame == nil || p.ID != rep.Frame.Face {
			continue
		}
		lean := s1.Angle(math.Asin(p.Normal.R3().Cross(face.Axis).Norm()))
		c.faceNormal.add(lean.Degrees(), p.Uncertainty.NormalDeg)
		c.faceOffset.add(p.Point.R3().Sub(face.Point).Dot(face.Axis), p.Uncertainty.Offset)
	}
}
