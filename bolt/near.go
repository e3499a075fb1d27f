package bolt

// near returns the scan's points in a tube about a place on the face's sheet: from r0 to r1
// from its axis, from height h0 to h1 over the face.
func (f *finder) near(fc *face, x, y, r0, r1, h0, h1 float64) (out []int32) {
	n := fc.flat.n
	at := fc.flat.at([2]float64{x, y}).Sub(f.scan.Origin)
	for _, i := range f.cells.in(shell{at: at, axis: n, r0: r0, r1: r1, h0: h0, h1: h1}) {
		d := f.scan.Offsets[i].R3().Sub(at)
		h := d.Dot(n)
		if r := d.Sub(n.Mul(h)).Norm(); h >= h0 && h <= h1 && r >= r0 && r <= r1 {
			out = append(out, i)
		}
	}
	return out
}

// nearWall returns some of near, evenly: enough to measure walls by.
func (f *finder) nearWall(fc *face, x, y, r0, r1, h0, h1 float64) []int32 {
	all := f.near(fc, x, y, r0, r1, h0, h1)
	step := 1 + len(all)/wallSample
	n := 0
	for k := 0; k < len(all); k += step {
		all[n] = all[k]
		n++
	}
	return all[:n]
}
