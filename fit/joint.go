package fit

import (
	"github.com/golang/geo/r3"
)

// HolesFit is K round walls of one radius whose axes stand square on one face.
type HolesFit struct {
	// Face is the face: Normal is the axis of every hole.
	Face Plane
	// Centres are where the axes meet the face.
	Centres []r3.Vector
	Radius  float64
	// RadiusU is the standard uncertainty of Radius, mm. TiltCov is the
	// covariance of Face.Normal toward the two directions of
	// Frame(Face.Normal), rad²; zero where the normal was held.
	RadiusU float64
	TiltCov [2][2]float64
	// Residuals is of all points; Holes, and FaceResiduals where a face was
	// fitted, are of the parts.
	Residuals     ResidualStats
	FaceResiduals ResidualStats
	Holes         []ResidualStats
	// Alone are the holes fitted one by one along the same axis, radius and
	// all.
	Alone []CylinderFit
	// EqualF is the F statistic of one radius against K: how much the sum of
	// squares grows by sharing it, per hole less one, over Alone's variance.
	// About one where the holes agree; read it against F(EqualDF). Neighbouring
	// scan points that are not independent raise it.
	EqualF  float64
	EqualDF [2]int
	Iters   int

	// The arrow-shaped inverse: see CentreCov.
	own    [][2][2]float64
	cross  [][2][4]float64
	shared [4][4]float64
}

// CentreCov returns the covariance of the centres of holes i and j on the
// face, mm², along Frame(Face.Normal): two holes share radius and axis, so
// what is unsure there moves both.
func (f *HolesFit) CentreCov(i, j int) (c [2][2]float64) {
	if i == j {
		c = f.own[i]
	}
	for a := range 2 {
		for b := range 2 {
			for k := range 4 {
				for l := range 4 {
					c[a][b] += f.cross[i][a][k] * f.shared[k][l] * f.cross[j][b][l]
				}
			}
		}
	}
	return c
}

// JointHoles fits circles of one radius to the walls of K holes (or to points
// of their rims) projected on a face that is held: their axes are its normal.
// walls[i] are the points of hole i, 3 or more. A hole seen by half borrows the
// radius from the others, which is worth far more than anything that can be
// done for it alone. opt.Weights, if any, run through the walls in order.
// Errors name the hole: *TooFewError, *InputError, ErrDegenerate,
// ErrNoConvergence.
//
// Method: Gauss–Newton with the blocks of the single holes eliminated (Björck,
// Numerical methods for least squares problems (1996), section 6.3).
func JointHoles(face Plane, walls [][]r3.Vector, opt Options) (HolesFit, error) {
	if !finite(face.Normal) || face.Normal.Norm() == 0 || !finite(face.Point) {
		return HolesFit{}, &InputError{"holes", -1, face.Normal, "the face held needs a point and a normal"}
	}
	return joint(face, nil, walls, opt)
}

// JointFace fits a face and K hole walls together: one plane, K axes square to
// it, one radius. Face and walls count by their points, or by opt.Weights, which
// run through the face and then the walls in order. The normal's sense is that
// of its largest component. The axis direction gains from both: a face tells it
// by its breadth, the walls by their depth. Errors as JointHoles, and those of
// PlaneTo.
func JointFace(face []r3.Vector, walls [][]r3.Vector, opt Options) (HolesFit, error) {
	w := opt
	if opt.Weights != nil {
		w.Weights = opt.Weights[:min(len(face), len(opt.Weights))]
	}
	p, err := PlaneTo(face, w)
	if err != nil {
		return HolesFit{}, err
	}
	return joint(p.Plane, face, walls, opt)
}

func joint(face Plane, facePts []r3.Vector, walls [][]r3.Vector, opt Options) (HolesFit, error) {
	out := HolesFit{Face: face}
	out.Face.Normal = unit(face.Normal)
	all := append([]r3.Vector(nil), facePts...)
	ends := []int{len(all)}
	for _, w := range walls {
		all = append(all, w...)
		ends = append(ends, len(all))
	}
	if len(walls) == 0 {
		return out, &TooFewError{"holes", 0, 3}
	}
	if opt.Weights != nil && len(opt.Weights) != len(all) {
		return out, &InputError{"holes", -1, r3.Vector{}, "as many weights as points are needed"}
	}
	c, err := columns("holes", all, opt, 3)
	if err != nil {
		return out, err
	}
	j := newJointState(c, out.Face, ends)
	var ssAlone float64
	for i, w := range walls {
		o := opt
		if opt.Weights != nil {
			o.Weights = opt.Weights[ends[i]:ends[i+1]]
		}
		one, err := CylinderAlong(out.Face.Normal, w, o)
		if err := alone(i, one, err); err != nil {
			return out, err
		}
		out.Alone = append(out.Alone, one)
		ctr := c.in(one.Point)
		j.uv[i] = [2]float64{ctr.Dot(j.e1), ctr.Dot(j.e2)}
	}
	j.radius = medianRadius(out.Alone) / c.scale
	if !j.solve(opt.MaxIter) {
		err = noConvergence("holes", j.iters)
	}
	out.Iters = j.iters
	if !j.result(&out) {
		return out, degenerate("holes", "the walls do not fix their centres")
	}
	// One radius against K of them, about the same axes.
	k := len(walls)
	for _, one := range out.Alone {
		ssAlone += one.Residuals.Sigma * one.Residuals.Sigma * float64(max(one.Residuals.N-3, 0))
	}
	if free := j.wallCount() - 3*k; k > 1 && free > 0 && ssAlone > 0 && facePts == nil {
		shared := j.wallSS * c.scale * c.scale
		out.EqualDF = [2]int{k - 1, free}
		out.EqualF = max(shared-ssAlone, 0) / float64(k-1) / (ssAlone / float64(free))
	}
	return out, err
}
