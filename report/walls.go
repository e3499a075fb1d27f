package report

import (
	"slices"

	"spotface/bolt"
)

// knownWalls gives each cylinder that is the wall of a hole, a stud or the bore the
// diameter of that, so that one wall has one diameter. The noise model of holes knows more
// of what neighbouring points share than the residuals of one cylinder do: its place and
// how it leans are no surer than that says.
func (b *builder) knownWalls(cylinders []Cylinder, walls []bolt.WallOf) {
	for i := range cylinders {
		c := &cylinders[i]
		k := slices.IndexFunc(walls, func(w bolt.WallOf) bool { return w.ID == c.ID })
		if k < 0 {
			continue
		}
		w := walls[k]
		c.Diameter = w.Diameter
		c.Uncertainty.Diameter = b.expand(Coverage, w.DiameterU*w.DiameterU, "cylinder "+c.ID)
		c.Uncertainty.DiameterUnseen = min(Coverage*w.UnseenU, c.Uncertainty.Diameter)
		c.Uncertainty.Point = max(c.Uncertainty.Point, studentRadius95(w.PlaceCov, w.DOF))
		c.Uncertainty.AxisDeg = max(c.Uncertainty.AxisDeg, degrees(studentRadius95(w.LeanCov, w.DOF)))
	}
}
