package mesh

import (
	"context"

	"github.com/golang/geo/r3"
)

// plyRows says which rows of a text body belong to which element.
type plyRows struct {
	text  *lines
	base  []int64 // first row of each chunk
	start []int64 // first row of each element, and the end of the last
}

// countPLY counts the rows of each chunk of a text body.
func (in *input) countPLY(ctx context.Context) (*plyRows, error) {
	h := in.ply
	if h.rows != nil {
		return h.rows, nil
	}
	p := &plyRows{text: in.lines(h.body)}
	counting := in.lines(h.body)
	counting.silent = true
	chunks := p.text.count()
	p.base = make([]int64, chunks+1)
	bufs := make([][]byte, in.jobs)
	err := inChunks(ctx, chunks, in.jobs, func(w, c int) error {
		b, _, err := counting.load(c, &bufs[w])
		for i := 0; i < len(b); {
			j := skipSpace(b, i)
			if j < len(b) && b[j] != '\n' {
				p.base[c+1]++
				j = lineEnd(b, j)
			}
			i = j + 1
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	for c := range chunks {
		p.base[c+1] += p.base[c]
	}
	p.start = append(p.start, 0)
	for _, e := range h.elements {
		n := e.n
		if len(e.props) == 0 {
			n = 0
		}
		p.start = append(p.start, p.start[len(p.start)-1]+n)
	}
	h.rows = p
	return p, nil
}

// sampleTextPLY gathers points spread over a text body, provided that it is
// the first element; else from its own lines once they are found.
func (in *input) sampleTextPLY(ctx context.Context, s *sample) error {
	h := in.ply
	rows, err := in.countPLY(ctx)
	if err != nil {
		return err
	}
	lo, err := in.plyRow(rows, rows.start[h.vertex])
	if err != nil {
		return err
	}
	hi, err := in.plyRow(rows, rows.start[h.vertex+1])
	if err != nil {
		return err
	}
	r := &raw{exact: make([]r3.Vector, 1)}
	return in.sampleLines(lo, hi, func(line []byte) {
		if in.plyTextPoint(r, &h.elements[h.vertex], 0, line) == "" {
			s.add(r.exact[0].X, r.exact[0].Y, r.exact[0].Z)
		}
	})
}

// plyRow returns the byte at which a row begins.
func (in *input) plyRow(rows *plyRows, row int64) (int64, error) {
	for c := range len(rows.base) - 1 {
		if row >= rows.base[c+1] {
			continue
		}
		var buf []byte
		b, at, err := rows.text.load(c, &buf)
		if err != nil {
			return 0, err
		}
		n := rows.base[c]
		for i := 0; i < len(b); {
			j := skipSpace(b, i)
			if j < len(b) && b[j] != '\n' {
				if n == row {
					return at + int64(i), nil
				}
				n++
				j = lineEnd(b, j)
			}
			i = j + 1
		}
	}
	return in.size, nil
}
