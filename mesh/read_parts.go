package mesh

import "github.com/golang/geo/r3"

// A surface has about two triangles a point. Files of many more, which must
// repeat themselves, are refused before they are given memory.
const (
	manyTriangles = 1 << 16
	perPoint      = 64
)

// joinParts puts the triangles of chunks together.
func (in *input) joinParts(r *raw, parts []raw) error {
	n, file, mapped := 0, 0, false
	for i := range parts {
		n += len(parts[i].tris)
		file += parts[i].fileTris
		mapped = mapped || parts[i].triItem != nil
	}
	if file > 1<<31-2 {
		return in.fail(quantity(int64(file), "triangle")+" are more than this program can number", "thin the mesh out")
	}
	if points := len(r.off); file > manyTriangles && file > perPoint*points {
		return in.fail(quantity(int64(file), "triangle")+" on "+quantity(int64(points), "point")+" are no surface",
			"export the scan again")
	}
	r.tris = make([][3]int32, 0, n)
	if mapped {
		r.triItem = make([]int32, 0, n)
	}
	for i := range parts {
		p := &parts[i]
		for k := range p.tris {
			switch {
			case p.triItem != nil:
				r.triItem = append(r.triItem, int32(r.fileTris)+p.triItem[k])
			case mapped:
				r.triItem = append(r.triItem, int32(r.fileTris+k))
			}
		}
		r.tris = append(r.tris, p.tris...)
		r.fileTris += p.fileTris
		r.removed.ZeroArea += p.removed.ZeroArea
		r.removed.Duplicate += p.removed.Duplicate
		p.tris, p.triItem = nil, nil
	}
	return nil
}

// joinPoints puts the points of chunks together.
func joinPoints(r *raw, parts []raw, n int) {
	exact := r.exact != nil
	for _, p := range parts {
		exact = exact || p.exact != nil
	}
	if exact {
		r.exact = make([]r3.Vector, 0, n)
		for i := range parts {
			r.exact = append(r.exact, parts[i].exact...)
			parts[i].exact = nil
		}
		return
	}
	r.off, r.hash = make([]Vec32, 0, n), make([]uint32, 0, n)
	for i := range parts {
		r.off, r.hash = append(r.off, parts[i].off...), append(r.hash, parts[i].hash...)
		parts[i].off, parts[i].hash = nil, nil
	}
}
