package report

import (
	"math"
	"slices"

	"spotface/bolt"
)

// find returns the item of a list that has an id, or nil.
func find[T any](list []T, id string, idOf func(*T) string) *T {
	for i := range list {
		if idOf(&list[i]) == id {
			return &list[i]
		}
	}
	return nil
}

// Hole returns the hole or stud called id, or nil.
func (rep *Report) Hole(id string) *Hole {
	of := func(h *Hole) string { return h.ID }
	if h := find(rep.Holes, id, of); h != nil {
		return h
	}
	return find(rep.Studs, id, of)
}

// Plane returns the plane called id, or nil.
func (rep *Report) Plane(id string) *Plane {
	return find(rep.Planes, id, func(p *Plane) string { return p.ID })
}

// Cylinder returns the cylinder called id, or nil.
func (rep *Report) Cylinder(id string) *Cylinder {
	return find(rep.Cylinders, id, func(c *Cylinder) string { return c.ID })
}

// BoltCircle returns the bolt circle called id, or nil.
func (rep *Report) BoltCircle(id string) *BoltCircle {
	return find(rep.BoltCircles, id, func(c *BoltCircle) string { return c.ID })
}

// Mouth returns where the cylinder called id, held perpendicular to the face, meets it: its
// round hole, stud or bore, or nil.
func (rep *Report) Mouth(id, face string) *Hole {
	at := func(h Hole) bool {
		return id != "" && h.Wall == id && h.Face == face && h.Kind == string(bolt.Round)
	}
	if rep.Bore != nil && at(*rep.Bore) {
		return rep.Bore
	}
	for _, list := range [][]Hole{rep.Holes, rep.Studs} {
		if i := slices.IndexFunc(list, at); i >= 0 {
			return &list[i]
		}
	}
	return nil
}

// MainCircle returns the circle that the frame is clocked by, else the one with most
// holes, or nil.
func (rep *Report) MainCircle() *BoltCircle {
	var best *BoltCircle
	for i := range rep.BoltCircles {
		c := &rep.BoltCircles[i]
		if rep.Frame != nil && c.Has(rep.Frame.Clock) {
			return c
		}
		if best == nil || len(c.Holes) > len(best.Holes) {
			best = c
		}
	}
	return best
}

// Has reports whether the circle has a hole of that id.
func (c *BoltCircle) Has(hole string) bool { return slices.Contains(c.Holes, hole) }

// Minor says that a surface of so many points is a small patch, under 0.5 % of the
// scan, not worth a line of text.
func (rep *Report) Minor(support int) bool { return 200*support < rep.Scan.Points }

// JointCovariance is that of the centres of holes that share an error, as those do that
// were fitted with one radius: mm², of the parameters "H1.x", "H1.y" and so on, x and y
// along geom.Basis of the hole's axis.
type JointCovariance struct {
	Parameters []string    `json:"parameters"`
	Matrix     [][]float64 `json:"matrix"`
}

// newJoint returns the covariance of those holes that share an error with another; nil
// where none does.
func newJoint(holes []bolt.Hole) *JointCovariance {
	of := slices.DeleteFunc(slices.Clone(holes), func(h bolt.Hole) bool {
		return !slices.ContainsFunc(holes, func(o bolt.Hole) bool {
			return o.ID != h.ID && bolt.CommonError(h, o) != ([2][2]float64{})
		})
	})
	if len(of) == 0 {
		return nil
	}
	j := &JointCovariance{Matrix: make([][]float64, 2*len(of))}
	for i, h := range of {
		j.Parameters = append(j.Parameters, h.ID+".x", h.ID+".y")
		for k, o := range of {
			c := bolt.CommonError(h, o)
			if k == i {
				c = h.CentreCov
			}
			for x := range 2 {
				j.Matrix[2*i+x] = append(j.Matrix[2*i+x], c[x][0], c[x][1])
			}
		}
	}
	return j
}

// sound reports whether the matrix is square, with two rows a hole.
func (j *JointCovariance) sound() bool {
	n := len(j.Parameters)
	wrong := func(row []float64) bool { return len(row) != n }
	return n%2 == 0 && len(j.Matrix) == n && !slices.ContainsFunc(j.Matrix, wrong)
}

// row is the row of a hole's x in the matrix, -1 where it shares nothing.
func (j *JointCovariance) row(hole string) int {
	if j == nil {
		return -1
	}
	return slices.Index(j.Parameters, hole+".x")
}

// BoltHoles returns holes, studs or the bore as package bolt takes them, with what their
// centres share. Ids that the report does not have are left out.
func (rep *Report) BoltHoles(ids ...string) []bolt.Hole {
	var out []bolt.Hole
	var rows []int
	for _, id := range ids {
		if h := rep.Hole(id); h != nil {
			out, rows = append(out, h.bolt()), append(rows, rep.JointCovariance.row(id))
		}
	}
	for i, r := range rows {
		for k, c := range rows {
			if i == k || r < 0 || c < 0 {
				continue
			}
			if out[i].Cross == nil {
				out[i].Cross = make(map[string][2][2]float64, len(out)-1)
			}
			m := rep.JointCovariance.Matrix
			out[i].Cross[out[k].ID] = [2][2]float64{{m[r][c], m[r][c+1]}, {m[r+1][c], m[r+1][c+1]}}
		}
	}
	return out
}

// CentreCov is the covariance of the hole's centre in its face, mm², along geom.Basis of
// its axis. A report that holds only the radius of the centre is taken as equally sure in
// all directions.
func (h *Hole) CentreCov() [2][2]float64 {
	if c := h.Uncertainty.CentreCovariance; c != nil {
		return *c
	}
	v := math.Pow(h.Uncertainty.Centre/CoverageCentre, 2)
	return [2][2]float64{{v, 0}, {0, v}}
}

// bolt returns the hole by itself as package bolt takes it.
func (h *Hole) bolt() bolt.Hole {
	b := bolt.Hole{ID: h.ID, Kind: bolt.Kind(h.Kind), Centre: h.Centre.R3(), Axis: h.Axis.R3(),
		Diameter: h.Diameter, Face: h.Face, Wall: h.Wall, From: bolt.From(h.From),
		Width: h.Width, Length: h.Length, CentreCov: h.CentreCov(), CentreDOF: h.Uncertainty.CentreDOF,
		DiameterU: h.Uncertainty.Diameter / Coverage, UnseenU: h.Uncertainty.DiameterUnseen / Coverage}
	if h.Direction != nil {
		b.Direction = h.Direction.R3()
	}
	return b
}
