package segment

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"sync/atomic"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/mesh"
	"spotface/mesh/geom"
)

func TestEveryPicksEvenly(t *testing.T) {
	for _, n := range []int{1, 7, 100, 101, 1000} {
		p := every(n, 30)
		require.LessOrEqual(t, len(p), 30)
		step := (n + 29) / 30
		for k, i := range p {
			assert.GreaterOrEqual(t, int(i), k*step)
			assert.Less(t, int(i), min(n, (k+1)*step))
		}
		assert.GreaterOrEqual(t, len(p)*step, n)
	}
}

// denseScan is a scan of points strewn over the square [0, 20] x [0, 20], 40 a mm²,
// and of some outliers above it, the first of all.
func denseScan(astray int) *mesh.Scan {
	rng := rand.New(rand.NewPCG(3, 4))
	s := &mesh.Scan{}
	add := func(z float32) {
		s.Offsets = append(s.Offsets, mesh.Vec32{20 * rng.Float32(), 20 * rng.Float32(), z})
		s.Normals = append(s.Normals, mesh.Vec32{0, 0, 1})
	}
	for range astray {
		add(5 + 40*rng.Float32())
	}
	for range 16_000 {
		add(0.01 * float32(rng.NormFloat64()))
	}
	return s
}

// Against means taken cell by cell in a map.
func TestThinTakesMeans(t *testing.T) {
	s := denseScan(0)
	s.Normals[7] = mesh.Vec32{} // not known: left out
	junk := make([]bool, s.Len())
	junk[9] = true
	lo := r3.Vector{Z: -1}
	n, err := thin(t.Context(), s, junk, lo, every(s.Len(), s.Len()), 1, 2)
	require.NoError(t, err)
	sum, count := map[[3]int]r3.Vector{}, map[[3]int]float64{}
	cell := func(o r3.Vector) [3]int {
		return [3]int{int(math.Floor(o.X)), int(math.Floor(o.Y)), int(math.Floor(o.Z + 1))}
	}
	for i, o := range s.Offsets {
		if i != 7 && i != 9 {
			sum[cell(o.R3())] = sum[cell(o.R3())].Add(o.R3())
			count[cell(o.R3())]++
		}
	}
	require.Equal(t, len(sum), n.len())
	for i := range n.len() {
		c := cell(n.at(int32(i)))
		assert.Less(t, n.at(int32(i)).Distance(sum[c].Mul(1/count[c])), 1e-5)
		assert.Equal(t, mesh.Vec32{0, 0, 1}, n.nrm[i])
		assert.Equal(t, n.in[i], n.cells.find(n.grid.key(n.pos[i])))
	}
	again, err := thin(t.Context(), s, junk, lo, every(s.Len(), s.Len()), 1, 1)
	require.NoError(t, err)
	assert.Equal(t, n.pos, again.pos, "on one core")
}

// counting is a context that counts the looks at it and is cancelled at one.
type counting struct {
	context.Context
	looks, stop int64
}

func (c *counting) Err() error {
	if n := atomic.AddInt64(&c.looks, 1); c.stop > 0 && n >= c.stop {
		return context.Canceled
	}
	return nil
}

// Every stage looks at the context once in so many points, nodes or trials, and
// does no more than a worker's share of them after it is cancelled. The largest
// share is some milliseconds of work.
func TestCancelLeavesNoMoreThanAChunk(t *testing.T) {
	s := denseScan(0)
	for len(s.Offsets) < 400_000 {
		s.Offsets, s.Normals = append(s.Offsets, s.Offsets...), append(s.Normals, s.Normals...)
	}
	looks := func(f func(ctx context.Context)) float64 {
		ctx := &counting{Context: t.Context()}
		f(ctx)
		return float64(ctx.looks)
	}
	chunksOf := func(n, size int) float64 { return math.Ceil(float64(n) / float64(size)) }
	r, err := newRun(t.Context(), s, Options{Jobs: 1})
	require.NoError(t, err)
	assert.GreaterOrEqual(t, looks(func(ctx context.Context) {
		_, err := samplingOf(ctx, s, nil, r.lo, 0.1, 0, 1)
		require.NoError(t, err)
	}), chunksOf(s.Len(), lookEvery), "sampling")
	pick := every(s.Len(), s.Len())
	nd, err := thin(t.Context(), s, nil, r.lo, pick, 0.2, 1)
	require.NoError(t, err)
	assert.GreaterOrEqual(t, looks(func(ctx context.Context) {
		_, err := thin(ctx, s, nil, r.lo, pick, 0.2, 1)
		require.NoError(t, err)
	}), chunksOf(s.Len(), thinChunk), "thin")
	g, err := connect(t.Context(), nd, 1)
	require.NoError(t, err)
	assert.GreaterOrEqual(t, looks(func(ctx context.Context) {
		_, err := connect(ctx, nd, 1)
		require.NoError(t, err)
	}), 2*chunksOf(nd.len(), nodeChunk), "graph")
	sr := newSearcher(nd, g, &r.tol, 1, 0)
	sr.smooth = slices.Repeat([]bool{true}, nd.len())
	assert.GreaterOrEqual(t, looks(func(ctx context.Context) { require.NoError(t, sr.run(ctx, 200, 300)) }),
		float64(sr.trials), "trials")
	assert.GreaterOrEqual(t, looks(func(ctx context.Context) {
		_, err := r.assign(ctx, nd, g, sr, nil)
		require.NoError(t, err)
	}), chunksOf(s.Len(), assignChunk), "points handed out")
}

// plateWithHole is a cloud of n points of a plate's top, 60 mm square, and of the
// wall of its hole of 6 mm, with noise of 0.02 mm and one point in 50 an outlier.
func plateWithHole(n int) *mesh.Scan {
	rng := rand.New(rand.NewPCG(9, 9))
	s := &mesh.Scan{Origin: r3.Vector{X: 100}}
	for i := range n {
		noise := 0.02 * rng.NormFloat64()
		p, m := r3.Vector{X: 60*rng.Float64() - 30, Y: 60*rng.Float64() - 30, Z: noise}, r3.Vector{Z: 1}
		if i%50 == 0 {
			p.Z = 20*rng.Float64() - 10
		} else if math.Hypot(p.X, p.Y) < 8 {
			sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
			p, m = r3.Vector{X: (6 + noise) * cos, Y: (6 + noise) * sin, Z: -8 * rng.Float64()}, r3.Vector{X: -cos, Y: -sin}
		}
		s.Offsets = append(s.Offsets, mesh.Vec32{float32(p.X), float32(p.Y), float32(p.Z)})
		s.Normals = append(s.Normals, mesh.Vec32{float32(m.X), float32(m.Y), float32(m.Z)})
	}
	return s
}

// A scan of so many points that nodes are made of some of them: all points are
// handed out all the same, and equally on any number of cores.
func TestMorePointsThanMakeNodes(t *testing.T) {
	s := plateWithHole(samplePoints + samplePoints/64)
	seg, err := Segment(t.Context(), s, Options{Jobs: 8})
	require.NoError(t, err)
	require.Equal(t, [4]int{1, 1}, counts(seg))
	on := 0
	for i, o := range s.Offsets {
		if i%50 != 0 && math.Hypot(float64(o[0]), float64(o[1])) < 6.2 {
			on++
		}
	}
	// Within three standard deviations and away from the face: at least 0.95.
	assert.Greater(t, float64(len(seg.Cylinders()[0].Points)), 0.95*float64(on))
	assert.InDelta(t, 6, seg.Cylinders()[0].Radius, 4*math.Sqrt(seg.Cylinders()[0].Cov[4][4]))
	assert.InDelta(t, 0, seg.Planes()[0].Distance(r3.Vector{X: 100}), 0.001)
	assert.True(t, seg.Cylinders()[0].Internal)
	if !testing.Short() {
		again, err := Segment(t.Context(), s, Options{Jobs: 1})
		require.NoError(t, err)
		require.Equal(t, seg, again, "one job")
	}
}

// What correlated noise lifts out of the band amid a face stays with the face:
// else there would be a pit in it, which looks like the rim of a hole.
func TestFacesHaveNoPits(t *testing.T) {
	s := plateWithHole(30_000)
	var bump []int
	for i := range s.Offsets {
		o := &s.Offsets[i]
		if i%50 != 0 && math.Hypot(float64(o[0])-20, float64(o[1])-20) < 0.55 {
			o[2] = 0.075 // the band is 0.06 wide either way
			bump = append(bump, i)
		}
	}
	require.Greater(t, len(bump), 5)
	seg, err := Segment(t.Context(), s, Options{})
	require.NoError(t, err)
	for _, i := range bump {
		require.EqualValues(t, 0, seg.PointSurface[i])
		require.False(t, seg.Interior[i], "the fit does without")
	}
	seg, err = Segment(t.Context(), s, Options{HalfWidth: 0.06})
	require.NoError(t, err)
	for _, i := range bump {
		require.EqualValues(t, -1, seg.PointSurface[i], "a band that is given is kept")
	}
}

// The nodes are the same as before, each beside its cell and its lot, and
// neighbours are near in memory, which a grid cell's hash does not bring about.
func TestNodesLieBesideTheirNeighbours(t *testing.T) {
	s := denseScan(0)
	n, err := thin(t.Context(), s, nil, r3.Vector{Z: -1}, every(s.Len(), s.Len()), 0.2, 2)
	require.NoError(t, err)
	was, thinned := *n, *n
	g, err := connect(t.Context(), n, 2)
	require.NoError(t, err)
	require.Len(t, n.pos, len(was.pos))
	for i, k := range n.lot {
		require.Equal(t, was.pos[i], n.pos[k])
		require.Equal(t, was.nrm[i], n.nrm[k])
		require.Equal(t, was.in[i], n.in[k])
	}
	var steps []float64
	for i := range int32(n.len()) {
		for _, j := range g.of(i) {
			if j >= 0 {
				require.Less(t, n.at(i).Sub(n.at(j)).Norm(), 2.0)
				steps = append(steps, math.Abs(float64(i-j)))
			}
		}
	}
	assert.Less(t, geom.Nth(steps, len(steps)/2), 50.0, "of %d nodes", n.len())
	again, err := connect(t.Context(), &thinned, 1)
	require.NoError(t, err)
	assert.Equal(t, g, again, "on one core")
}

// A sheet bent to a Z does not say which side is outside, but its normals agree along
// it, so that its faces are found whole. Truth: made of three planes.
func TestCloudOfUnknownSideIsDivided(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	s := &mesh.Scan{}
	for range 12_000 {
		u, v := 20*rng.Float32(), 20*rng.Float32()
		e := float32(0.02 * rng.NormFloat64())
		s.Offsets = append(s.Offsets, [...]mesh.Vec32{{u, v, e}, {20 + e, v, u}, {20 + u, v, 20 + e}}[rng.IntN(3)])
	}
	s, err := mesh.EstimateNormals(t.Context(), s, nil, 0)
	require.NoError(t, err)
	require.True(t, s.Unoriented)
	seg, err := Segment(t.Context(), s, Options{})
	require.NoError(t, err)
	require.Equal(t, [4]int{3}, counts(seg))
	for _, p := range seg.Planes() {
		assert.Greater(t, len(p.Points), 3800, "of 4000, less the edges")
	}
}
