package mesh

import (
	"context"
	"fmt"
	"math"

	"github.com/golang/geo/r3"
)

// orientMesh makes the windings of a mesh agree and turns closed surfaces that
// are inside out. It counts the triangles that it rewinds in Removed.Rewound
// and says in a warning what was turned.
func (s *Scan) orientMesh(ctx context.Context, jobs int) error {
	open, disagree := openEdges(ctx, s)
	flip := make([]bool, len(s.Triangles))
	if disagree {
		if err := s.agree(ctx, flip, jobs); err != nil {
			return err
		}
	}
	if s.turnShells(open, flip) >= knownArea {
		s.Unoriented = false
	}
	for i, f := range flip {
		if f {
			t := &s.Triangles[i]
			t[1], t[2] = t[2], t[1]
			s.Removed.Rewound++
		}
	}
	return ctx.Err()
}

// agree marks the triangles to be rewound so that neighbours across an edge of
// two triangles agree. Edges of more triangles, where sheets are doubled or
// meet, are not crossed. In each patch of surface the larger area decides; if
// much was wound both ways, no majority is trusted, and the outer side is found
// as it is for a cloud of the vertices.
func (s *Scan) agree(ctx context.Context, flip []bool, jobs int) error {
	sets := newParitySets(len(s.Triangles))
	err := VisitEdges(ctx, s, true, func(e []HalfEdge) {
		if len(e) == 2 && e[0].Triangle != e[1].Triangle {
			sets.join(e[0].Triangle, e[1].Triangle, e[0].From == e[1].From)
		}
	})
	if err != nil {
		return err
	}
	balance := make([]float64, len(flip)) // at each root: area wound as it is, less area against
	total, minority := 0.0, 0.0
	for i := range flip {
		root, odd := sets.root(int32(i))
		area := s.areaVector(i).Norm()
		total += area
		balance[root] += signOf(odd) * area
		flip[i] = odd
	}
	for i := range flip {
		root, _ := sets.root(int32(i))
		flip[i] = flip[i] != (balance[root] < 0)
		if flip[i] {
			minority += s.areaVector(i).Norm()
		}
	}
	if minority <= trustedMinority*total {
		return nil
	}
	// Much was wound at random: ask the points.
	cloud := &Scan{Origin: s.Origin, Offsets: s.Offsets}
	cloud, err = EstimateNormals(ctx, cloud, nil, jobs)
	if err != nil {
		return err
	}
	clear(balance)
	all := 0.0
	for i, t := range s.Triangles {
		root, _ := sets.root(int32(i))
		n := cloud.Normal(int(t[0])).Add(cloud.Normal(int(t[1]))).Add(cloud.Normal(int(t[2])))
		v := signOf(flip[i]) * s.areaVector(i).Dot(n)
		balance[root] += v
		all += v
	}
	for i := range flip {
		root, _ := sets.root(int32(i))
		// Where the points do not show outside either, they show at least how the
		// patches agree, and the larger area keeps its winding.
		flip[i] = flip[i] != (balance[root] < 0) != (cloud.Unoriented && all < 0)
	}
	s.Unoriented = cloud.Unoriented
	return nil
}

// areaVector returns twice the area of triangle i, mm², along its normal.
func (s *Scan) areaVector(i int) r3.Vector {
	t := s.Triangles[i]
	a := s.Offsets[t[0]].R3()
	return s.Offsets[t[1]].R3().Sub(a).Cross(s.Offsets[t[2]].R3().Sub(a))
}

// signOf returns -1 for odd, else 1.
func signOf(odd bool) float64 {
	if odd {
		return -1
	}
	return 1
}

// shell is a connected piece of a mesh that may enclose a volume.
type shell struct {
	triangles    int
	area, volume float64 // mm², mm³; volume by the windings
	open         float64 // length of open edges, mm
	lo, hi       [3]float32
}

// holds reports whether the box of c holds that of o.
func (c *shell) holds(o *shell) bool {
	for k := range 3 {
		if c.lo[k] > o.lo[k] || c.hi[k] < o.hi[k] {
			return false
		}
	}
	return true
}

// turnShells marks the triangles of closed surfaces that are inside out, given
// the open edges and which triangles are to be rewound already. A closed
// surface of negative volume within the box of another is assumed to be a cavity in it and
// stays, unless the outer one is turned as well. It returns the share of the triangles in
// closed surfaces.
func (s *Scan) turnShells(open []HalfEdge, flip []bool) (share float64) {
	label, sizes := ConnectedComponents(s)
	shells := make([]shell, len(sizes))
	for k, n := range sizes {
		const most = math.MaxFloat32
		shells[k] = shell{triangles: n, lo: Vec32{most, most, most}, hi: Vec32{-most, -most, -most}}
	}
	for _, e := range open {
		shells[label[e.From]].open += s.Offsets[e.From].R3().Distance(s.Offsets[e.To].R3())
	}
	for i, t := range s.Triangles {
		// 6V = Σ a·((b-a)×(c-a)) over a closed surface, wherever the origin is.
		c, n := &shells[label[t[0]]], s.areaVector(i)
		c.area += n.Norm() / 2
		c.volume += signOf(flip[i]) * s.Offsets[t[0]].R3().Dot(n) / 6
	}
	negative := false
	var closed []int
	for k, c := range shells {
		size := float64(c.triangles) / float64(len(s.Triangles))
		if size >= leastShell && c.open*c.open <= shellGaps*c.area &&
			math.Abs(c.volume) > flatShell*c.area*math.Sqrt(c.area) {
			closed = append(closed, k)
			negative = negative || c.volume < 0
			share += size
		}
	}
	if !negative {
		return share
	}
	for v, l := range label {
		extend(&shells[l].lo, &shells[l].hi, s.Offsets[v])
	}
	turned := make([]bool, len(shells))
	for _, k := range closed {
		outer := &shells[k]
		for _, o := range closed {
			if shells[o].holds(outer) {
				outer = &shells[o]
			}
		}
		turned[k] = outer.volume < 0
	}
	all, count := 0, 0 // triangles of turned shells; those not wound outward in the file
	for i, t := range s.Triangles {
		if turned[label[t[0]]] {
			flip[i] = !flip[i]
			all++
			if flip[i] {
				count++
			}
		}
	}
	if 2*count > all {
		s.Warnings = append(s.Warnings, fmt.Sprintf("The mesh was inside out: its windings "+
			"enclosed a negative volume. %d of %d triangles were turned; if the scan is mirrored, "+
			"so are its clocking angles.", count, len(s.Triangles)))
	}
	return share
}
