package mesh

import "context"

// A cloud's normal is taken from so many neighbours: few where they lie far
// enough apart for the noise not to matter, more where they are close.
const (
	fewNeighbours  = 12
	manyNeighbours = 32
	// wantTilt is the standard deviation of a normal's tilt, rad, that ends
	// the taking in of more neighbours.
	wantTilt = 0.03
)

// cloudNormals returns a unit normal a point of either side, zero where there
// is none.
//
// The nearest neighbours, however far they are, take the scan's changing
// density as it comes. A plane is drawn through the place and pairs of
// neighbours, scored by truncated squares, and the best refined by least
// squares: points astray, and the other side of an edge, do not bend it.
func cloudNormals(ctx context.Context, s *Scan, ix *Index, jobs int) ([]Vec32, error) {
	tex, err := EstimateTexture(ctx, s, ix, 0)
	if err != nil {
		return nil, err
	}
	band := 3*tex.Noise + 1e-6*tex.Spacing
	normals := make([]Vec32, s.Len())
	err = eachChunk(ctx, jobs, s.Len(), 1024, func(lo, hi int) {
		var p patch
		for k := lo; k < hi; k++ {
			i := ix.At(k)
			p.gather(s.Offsets, ix, i, manyNeighbours)
			n, _, _, _, ok := p.plane(p.enough(tex.Noise), band)
			if ok {
				normals[i] = Vec32{float32(n[0]), float32(n[1]), float32(n[2])}
			}
		}
	})
	return normals, err
}

// enough returns how many of p's neighbours settle the normal. Points spread
// over a disc of radius R have standard deviation R/2 along each axis of it,
// so the tilt's is noise / (R/2 · √k).
func (p *patch) enough(noise float64) int {
	k := min(fewNeighbours, p.n)
	for ; k < p.n; k += 4 {
		r := p.reach(k)
		if r*r*float64(k)*wantTilt*wantTilt >= 4*noise*noise {
			break
		}
	}
	return min(k, p.n)
}
