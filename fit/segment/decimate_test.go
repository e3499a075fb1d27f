package segment

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/geom"
	"spotface/mesh/scansim"
)

// jitter returns the scan s with every point moved by up to size, mm, along
// each axis, evenly distributed. s is not changed.
func jitter(s *mesh.Scan, size float64, seed uint64) *mesh.Scan {
	rng := rand.New(rand.NewPCG(seed, 7))
	c := *s
	c.Offsets = make([]mesh.Vec32, len(s.Offsets))
	for i, v := range s.Offsets {
		for k := range v {
			c.Offsets[i][k] = float32(float64(v[k]) + size*(2*rng.Float64()-1))
		}
	}
	return &c
}

func TestJitter(t *testing.T) {
	s, _, err := scansim.Fused(t.Context(), scansim.KettlePort(), scansim.FusedOptions{Voxel: 2.7})
	require.NoError(t, err)
	moved := jitter(s, 0.01, 1)
	far := 0.0
	for i := range s.Len() {
		far = max(far, moved.Point(i).Distance(s.Point(i)))
	}
	assert.Less(t, far, 0.01*math.Sqrt(3)+1e-5)
	assert.Greater(t, far, 0.014)
}

// thinHold is the weight of a boundary against the faces beside it, thinPull that of an
// edge's middle, thinTurn the cosine by which a triangle may turn in one collapse. Large
// weights keep outlines and short edges.
const thinHold, thinPull, thinTurn = 100, 1e-3, 0.3

// decimate returns the mesh s with about the given share of its triangles, as scanning
// software thins: large triangles on flat places, small ones on bends. s is not changed.
//
// Method: edge collapse by quadrics, Garland and Heckbert, Surface
// simplification using quadric error metrics, SIGGRAPH 1997, 209-216; planes
// weighted by area, boundaries held by planes across them, no collapse that
// turns a triangle over or changes the topology. In place of a queue it passes
// over the cheapest third of all edges, again and again.
func decimate(s *mesh.Scan, share float64) *mesh.Scan {
	t := newThinner(s)
	want := int(share * float64(len(s.Triangles)))
	for before := t.left + 1; t.left > want && t.left < before; {
		before = t.left
		t.pass(want)
	}
	c := *s
	c.Offsets, c.Triangles, c.Normals = nil, nil, nil
	number := make([]int32, len(t.at))
	for i, tri := range t.tris {
		if t.gone[i] {
			continue
		}
		for k, v := range tri {
			if number[v] == 0 {
				p := t.at[v]
				c.Offsets = append(c.Offsets, mesh.Vec32{float32(p.X), float32(p.Y), float32(p.Z)})
				number[v] = int32(len(c.Offsets))
			}
			tri[k] = number[v] - 1
		}
		c.Triangles = append(c.Triangles, tri)
	}
	c.Source.Points, c.Source.Triangles = len(c.Offsets), len(c.Triangles)
	return &c
}

// quadric is the sum of w (n·p + d)² over planes: p'Ap + 2 b·p + c.
type quadric struct {
	a geom.Sym3
	b r3.Vector
	c float64
}

func (q *quadric) add(n r3.Vector, d, w float64) {
	q.a.AddOuter(n, w)
	q.b = q.b.Add(n.Mul(w * d))
	q.c += w * d * d
}

func (q quadric) plus(o quadric) quadric {
	a, b := q.a, o.a
	return quadric{
		a: geom.Sym3{XX: a.XX + b.XX, XY: a.XY + b.XY, XZ: a.XZ + b.XZ, YY: a.YY + b.YY, YZ: a.YZ + b.YZ, ZZ: a.ZZ + b.ZZ},
		b: q.b.Add(o.b), c: q.c + o.c,
	}
}

// collapse is a way to join the vertices a and b in the point to.
type collapse struct {
	cost float64
	a, b int32
	to   r3.Vector
}

type thinner struct {
	at     []r3.Vector
	tris   [][3]int32
	gone   []bool
	left   int       // triangles
	of     [][]int32 // triangles of each vertex
	quad   []quadric
	border []bool // vertex on a boundary
}

func newThinner(s *mesh.Scan) *thinner {
	n := len(s.Offsets)
	t := &thinner{
		at: make([]r3.Vector, n), tris: slices.Clone(s.Triangles), gone: make([]bool, len(s.Triangles)),
		left: len(s.Triangles), of: make([][]int32, n), quad: make([]quadric, n), border: make([]bool, n),
	}
	for i, v := range s.Offsets {
		t.at[i] = v.R3()
	}
	for i, tri := range t.tris {
		m := t.normal(tri)
		area := m.Norm() / 2
		m = geom.Unit(m)
		for _, v := range tri {
			t.of[v] = append(t.of[v], int32(i))
			t.quad[v].add(m, -m.Dot(t.at[v]), area)
		}
	}
	for _, tri := range t.tris {
		for k, a := range tri {
			b := tri[(k+1)%3]
			if t.shared(a, b) > 1 {
				continue
			}
			along := t.at[b].Sub(t.at[a])
			across := geom.Unit(along.Cross(t.normal(tri)))
			for _, v := range [2]int32{a, b} {
				t.border[v] = true
				t.quad[v].add(across, -across.Dot(t.at[v]), thinHold*along.Norm2())
			}
		}
	}
	return t
}

func (t *thinner) normal(tri [3]int32) r3.Vector {
	a := t.at[tri[0]]
	return t.at[tri[1]].Sub(a).Cross(t.at[tri[2]].Sub(a))
}

// shared returns the number of triangles with both vertices.
func (t *thinner) shared(a, b int32) (n int) {
	for _, i := range t.of[a] {
		if tri := t.tris[i]; tri[0] == b || tri[1] == b || tri[2] == b {
			n++
		}
	}
	return n
}

// pass collapses edges without common ends, cheapest first, until few enough
// triangles are left.
func (t *thinner) pass(want int) {
	var edges []collapse
	for i, tri := range t.tris {
		for k, a := range tri {
			if b := tri[(k+1)%3]; !t.gone[i] && (a < b || t.shared(a, b) == 1) {
				edges = append(edges, t.price(a, b))
			}
		}
	}
	slices.SortFunc(edges, func(x, y collapse) int {
		return cmp.Or(cmp.Compare(x.cost, y.cost), cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b))
	})
	touched := make([]bool, len(t.at))
	for _, e := range edges[:(len(edges)+2)/3] {
		if t.left <= want {
			return
		}
		if !touched[e.a] && !touched[e.b] && t.allowed(e) {
			touched[e.a], touched[e.b] = true, true
			t.join(e)
		}
	}
}

// price returns the cheapest way to join a and b.
func (t *thinner) price(a, b int32) collapse {
	q := t.quad[a].plus(t.quad[b])
	// A little weight draws to the middle: it decides where the
	// planes leave the point free, and lets short edges go first on flat places.
	mid := t.at[a].Add(t.at[b]).Mul(0.5)
	w := thinPull * (q.a.XX + q.a.YY + q.a.ZZ) / 3
	l := [9]float64{q.a.XX + w, 0, 0, q.a.XY, q.a.YY + w, 0, q.a.XZ, q.a.YZ, q.a.ZZ + w}
	x := [3]float64{w*mid.X - q.b.X, w*mid.Y - q.b.Y, w*mid.Z - q.b.Z}
	to := mid
	if geom.Cholesky(l[:], 3, 1e-12) {
		geom.CholeskySolve(l[:], x[:])
		to = r3.Vector{X: x[0], Y: x[1], Z: x[2]}
	}
	cost := to.Dot(q.a.Mul(to)) + 2*q.b.Dot(to) + q.c
	return collapse{cost + w*t.at[a].Sub(t.at[b]).Norm2(), a, b, to}
}

// allowed reports whether a collapse turns no triangle over and keeps the
// topology: the ends have no common neighbours but across their own triangles,
// and do not join two boundaries.
func (t *thinner) allowed(e collapse) bool {
	edge := t.shared(e.a, e.b)
	if edge == 0 || edge > 2 || edge == 2 && t.border[e.a] && t.border[e.b] {
		return false
	}
	common := map[int32]bool{}
	for _, v := range [2]int32{e.a, e.b} {
		for _, i := range t.of[v] {
			tri := t.tris[i]
			for _, u := range tri {
				if v == e.a && u != e.a && u != e.b && t.shared(u, e.b) > 0 {
					common[u] = true
				}
			}
			if slices.Contains(tri[:], e.a) && slices.Contains(tri[:], e.b) {
				continue
			}
			before := t.normal(tri)
			old := t.at[v]
			t.at[v] = e.to
			after := t.normal(tri)
			t.at[v] = old
			if before.Dot(after) < thinTurn*math.Sqrt(before.Norm2()*after.Norm2()) {
				return false
			}
		}
	}
	return len(common) == edge
}

// join carries out a collapse.
func (t *thinner) join(e collapse) {
	t.at[e.a] = e.to
	t.quad[e.a] = t.quad[e.a].plus(t.quad[e.b])
	t.border[e.a] = t.border[e.a] || t.border[e.b]
	for _, i := range t.of[e.b] {
		tri := &t.tris[i]
		if !slices.Contains(tri[:], e.a) {
			tri[slices.Index(tri[:], e.b)] = e.a
			t.of[e.a] = append(t.of[e.a], i)
			continue
		}
		t.gone[i] = true
		t.left--
		for _, u := range tri {
			if u != e.b {
				t.of[u] = slices.DeleteFunc(t.of[u], func(k int32) bool { return k == i })
			}
		}
	}
	t.of[e.b] = nil
}

// A closed mesh stays closed, keeps its volume, and has large triangles on its faces.
func TestDecimatedMeshKeepsTheSurface(t *testing.T) {
	p := scansim.Flange(scansim.FlangeSpec{Diameter: 80, Bore: 30, PitchDiameter: 56, HoleDiameter: 7})
	s, _, err := scansim.Fused(t.Context(), p, scansim.FusedOptions{Seed: 2, Voxel: 1, ShowHidden: true, InPlace: true})
	require.NoError(t, err)
	few := decimate(s, 0.05)
	assert.InDelta(t, 0.05*float64(len(s.Triangles)), float64(len(few.Triangles)), 2)
	edges := map[[2]int32]int{}
	for _, c := range few.Triangles {
		for k := range 3 {
			edges[[2]int32{c[k], c[(k+1)%3]}]++
		}
	}
	for e, n := range edges {
		require.Equal(t, 1, n)
		require.Equal(t, 1, edges[[2]int32{e[1], e[0]}])
	}
	size := func(s *mesh.Scan) (volume, largest float64) {
		for _, c := range s.Triangles {
			a, b, c := s.Point(int(c[0])), s.Point(int(c[1])), s.Point(int(c[2]))
			volume += a.Dot(b.Cross(c)) / 6
			largest = max(largest, b.Sub(a).Cross(c.Sub(a)).Norm()/2)
		}
		return volume, largest
	}
	before, small := size(s)
	after, large := size(few)
	// Twenty chords round a hole of radius r leave (1 - sin(2π/20)/(2π/20)), 1.6 %, of
	// its area; of all holes' and the rim's that is some half a percent here.
	assert.InEpsilon(t, before, after, 0.006)
	assert.Greater(t, large, 20*small)
}

func TestDecimatedMeshHoldsBoundaries(t *testing.T) {
	p := scansim.Flange(scansim.FlangeSpec{Diameter: 60, Bore: 20, Holes: -1})
	s, _, err := scansim.Fused(t.Context(), p, scansim.FusedOptions{Seed: 2, Voxel: 0.8, InPlace: true, ShowHidden: true,
		Drop: func(p r3.Vector) bool { return p.Z < -0.5 }})
	require.NoError(t, err)
	few := decimate(s, 0.05)
	most, least := 0.0, 100.0
	for i := range few.Len() {
		q := few.Point(i)
		most, least = max(most, math.Hypot(q.X, q.Y)), min(least, math.Hypot(q.X, q.Y))
	}
	assert.InDelta(t, 30, most, 0.5)
	assert.InDelta(t, 10, least, 0.5)
}
