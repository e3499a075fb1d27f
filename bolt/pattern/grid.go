package pattern

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"
)

// grids returns the best grids through each free feature and two of its neighbours at a
// right angle, and the best lines through it and one.
func (s *search) grids(taken []bool) (out []Found) {
	type seed struct {
		c, p, q complex128 // q is 0 for a line
		from    [3]int
	}
	var seeds []seed
	some := func(at complex128, gate float64) bool {
		for j, z := range s.z {
			if !taken[j] && square(z-at) < gate*gate {
				return true
			}
		}
		return false
	}
	for i, next := range s.near(taken) {
		for k, a := range next {
			p := s.z[a] - s.z[i]
			if sd := seedGate * (drillSD(2*cmplx.Abs(p)) + math.Sqrt(s.noise[i]+s.noise[a])); some(s.z[a]+p, sd) {
				seeds = append(seeds, seed{s.z[i], p, 0, [3]int{i, a, i}})
			}
			for _, b := range next[:k] {
				q := s.z[b] - s.z[i]
				sd := drillSD(cmplx.Abs(p)+cmplx.Abs(q)) + math.Sqrt(s.noise[i]+s.noise[a]+s.noise[b])
				dot := real(p)*real(q) + imag(p)*imag(q)
				if math.Abs(dot) < seedGate*sd*min(cmplx.Abs(p), cmplx.Abs(q)) && some(s.z[a]+q, 1.5*seedGate*sd) {
					seeds = append(seeds, seed{s.z[i], p, q, [3]int{i, a, b}})
				}
			}
		}
	}
	// Small cells first: a grid of every other one of theirs is not tried.
	size := func(d seed) float64 { return max(square(d.p), square(d.q)) }
	slices.SortStableFunc(seeds, func(a, b seed) int { return cmp.Compare(size(a), size(b)) })
	var in [][]bool
	for _, d := range seeds {
		if slices.ContainsFunc(in, func(m []bool) bool { return m[d.from[0]] && m[d.from[1]] && m[d.from[2]] }) && d.q != 0 {
			continue
		}
		f, ok := s.gridAt(d.c, d.p, d.q, taken)
		if !ok || f.LogOdds < 0 {
			continue
		}
		out = append(out, f)
		if f.Rows > 1 {
			m := make([]bool, len(s.z))
			for _, i := range f.Members {
				m[i] = true
			}
			in = append(in, m)
		}
	}
	return out
}

// gridAt returns the grid of the free features near c + x p + y q, or the line where q is 0.
func (s *search) gridAt(c, p, q complex128, taken []bool) (Found, bool) {
	line := q == 0
	if line {
		q = p * 1i
	}
	if imag(cmplx.Conj(p)*q) < 0 {
		p, q = q, p // counter-clockwise
	}
	var members []int
	var cells [][2]int
	for range 2 { // again with what the members make of it
		members, cells = s.onGrid(c, p, q, line, taken)
		if len(members) < 3 {
			return Found{}, false
		}
		var d []drillError
		z := make([]complex128, len(members))
		for k, i := range members {
			z[k] = s.z[i]
			d = append(d, newDrillError(cmplx.Abs(p)+cmplx.Abs(q), 1, s.noise[i]))
		}
		l := lay(z, asPlaces(cells), d, !line)
		c, p, q = l.c, l.x, l.y
	}
	f, ok := s.judgeGrid(members, cells)
	return f, ok && !(f.Kind == Rectangle && f.Square) // the ring of four says it
}

// asPlaces are cells as places of a grid of one pitch.
func asPlaces(cells [][2]int) []complex128 {
	e := make([]complex128, len(cells))
	for i, k := range cells {
		e[i] = complex(float64(k[0]), float64(k[1]))
	}
	return e
}

// onGrid returns the free features near cells, one a cell, and the cells, from (0, 0) on:
// the block of rows and columns about the origin of which most are filled.
func (s *search) onGrid(c, p, q complex128, line bool, taken []bool) (members []int, cells [][2]int) {
	sd := drillSD(cmplx.Abs(p) + cmplx.Abs(q))
	at := map[[2]int]int{}
	for i, z := range s.z {
		if taken[i] {
			continue
		}
		x, y := (z-c)/p, (z-c)/q
		k := [2]int{int(math.Round(real(x))), int(math.Round(real(y)))}
		if line && k[1] != 0 {
			continue
		}
		off := cmplx.Abs(z - c - complex(float64(k[0]), 0)*p - complex(float64(k[1]), 0)*q)
		if off > min(gridGate*math.Sqrt(sd*sd+s.noise[i]), 0.25*min(cmplx.Abs(p), cmplx.Abs(q))) {
			continue
		}
		at[k] = i
	}
	block := [2][2]int{} // lowest and highest column and row, grown while they are filled
	filled := func(b [2][2]int) float64 {
		n := 0
		for k := range at {
			if k[0] >= b[0][0] && k[0] <= b[1][0] && k[1] >= b[0][1] && k[1] <= b[1][1] {
				n++
			}
		}
		return float64(n) / float64((b[1][0]-b[0][0]+1)*(b[1][1]-b[0][1]+1))
	}
	strip := func(b [2][2]int, way, side int) [2][2]int { // the next row or column
		e := b
		if side == 0 {
			e[0][way]--
			e[1][way] = e[0][way]
		} else {
			e[1][way]++
			e[0][way] = e[1][way]
		}
		return e
	}
	for grown := true; grown; {
		grown = false
		for way := range 2 {
			for side := range 2 {
				if e := strip(block, way, side); filled(e) >= 0.5 {
					block[side][way] = e[0][way]
					grown = true
				}
			}
		}
	}
	if filled(block) < leastFill {
		return nil, nil
	}
	for y := block[0][1]; y <= block[1][1]; y++ {
		for x := block[0][0]; x <= block[1][0]; x++ {
			if i, ok := at[[2]int{x, y}]; ok {
				members = append(members, i)
				cells = append(cells, [2]int{x - block[0][0], y - block[0][1]})
			}
		}
	}
	return members, cells
}

// judgeGrid weighs members in cells as a grid of one pitch and of two, and as a line.
func (s *search) judgeGrid(members []int, cells [][2]int) (Found, bool) {
	n := len(members)
	r := Reading{Kind: Grid, Cells: cells}
	for _, k := range cells {
		r.Columns, r.Rows = max(r.Columns, k[0]+1), max(r.Rows, k[1]+1)
	}
	if r.Columns == 1 {
		r.Columns, r.Rows = r.Rows, 1
		for i, k := range cells {
			cells[i] = [2]int{k[1], 0}
		}
	}
	all := r.Columns * r.Rows
	empty := all - n
	if n < 3 || r.Rows > 1 && (n < 4 || empty > 0 && n < 5) || r.Rows == 1 && empty > 0 && n < 4 {
		return Found{}, false
	}
	var size float64
	z := make([]complex128, n)
	for k, i := range members {
		z[k] = s.z[i]
		size = max(size, cmplx.Abs(z[k]-z[0]))
	}
	d := make([]drillError, n)
	for k, i := range members {
		d[k] = newDrillError(size, 1, s.noise[i])
	}
	prior := 0.0
	if empty > 0 {
		prior = logMissing(all, n)
	}
	at := asPlaces(cells)
	one := lay(z, at, d, false)
	switch {
	case r.Rows == 1:
		r.Kind, r.Square = Line, true
		r.log = one.evidence(s.area, math.Pi) + prior + math.Log(priorLine) - 2*math.Log(float64(r.Columns))
	default:
		if all == 4 {
			r.Kind = Rectangle
			prior += math.Log(priorRectangle / 2)
		} else {
			prior += math.Log(priorGrid/2) - 2*math.Log(float64(r.Columns*r.Rows)/4)
		}
		two := lay(z, at, d, true)
		r.log = two.evidence(s.area, math.Pi/2) + prior
		if l := one.evidence(s.area, math.Pi/2) + prior; l > r.log {
			r.log, r.Square = l, true
		}
	}
	return Found{Reading: r, Members: members, LogOdds: s.odds(r.log, members), Also: -1}, true
}

// also returns other readings of a found pattern: the square that a ring of four is,
// and the rings that a grid of three equal rows has about its middle.
func (s *search) also(f Found, number int) (out []Found) {
	m := f.Members
	switch {
	case f.Kind == Ring && len(m) == 4 && f.Positions == 4 && f.Full && len(f.Offset) == 0:
		// Corners counter-clockwise, as cells.
		if g, ok := s.judgeGrid([]int{m[0], m[1], m[3], m[2]}, [][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}}); ok {
			out = append(out, g)
		}
	case f.Kind == Grid && f.Square && f.Rows == 3 && len(m) == 9:
		for _, four := range [][]int{{m[0], m[2], m[6], m[8]}, {m[1], m[3], m[5], m[7]}} {
			others := make([]bool, len(s.z))
			for i := range others {
				others[i] = !slices.Contains(four, i)
			}
			c, r, _ := s.through(four[0], four[1], four[2])
			h := s.hitsOn(circle{c, r}, others)
			t := ringTrial{s: s, best: map[string]Found{}, tried: map[string]bool{}}
			t.judge(h.k, h.members(math.Pi/2, 4, four[0], false), math.Pi/2, 4, four[0])
			out = append(out, t.found()...)
		}
	}
	for i := range out {
		out[i].Also = number
	}
	return out
}

// Pair returns the two features that are alike where no other is alike to either, and no
// others are alike by two: a line of two. ok is false where there are none. Any two lie on
// a line, so that their sizes alone speak for a pattern.
func Pair(f Features) (pair Found, ok bool) {
	r := Reading{Kind: Line, Columns: 2, Rows: 1, Cells: [][2]int{{0, 0}, {1, 0}}, Square: true}
	for i := range f.Size {
		like := slices.DeleteFunc(Without(len(f.Size)), func(j int) bool { return !f.alike(i, j) })
		switch {
		case len(like) != 2 || like[0] != i:
			continue
		case len(slices.DeleteFunc(Without(len(f.Size)), func(j int) bool { return !f.alike(like[1], j) })) > 2:
			continue
		case ok:
			return Found{}, false
		}
		pair, ok = Found{Reading: r, Members: like, Also: -1}, true
	}
	return pair, ok
}

// GridFit is a grid laid on measured places.
type GridFit struct {
	*Fit
	Pitch, PitchU [2]float64 // along rows and columns, mm, and their standard uncertainties
}

// ToGrid lays a grid of which each place has a column and row on places, by least squares
// with two pitches, or one where they are equal. Deviations know the ratio of the pitches
// for certain. The error is ErrUndetermined.
func ToGrid(cells [][2]int, m Places, equal bool) (GridFit, error) {
	n := len(cells)
	z, w, nominal := make([]complex128, n), make([]float64, n), make([][2]float64, n)
	rows := 0
	for i, p := range m.XY {
		z[i], w[i] = complex(p[0], p[1]), 1
		rows = max(rows, cells[i][1])
	}
	ratio := 1.0
	if rows > 0 && !equal {
		l := laid{two: true}
		l.step(z, asPlaces(cells), w)
		ratio = imag(l.y / l.x)
	}
	for i, k := range cells {
		nominal[i] = [2]float64{float64(k[0]), ratio * float64(k[1])}
	}
	f, err := To(nominal, m, Options{})
	if err != nil {
		return GridFit{}, err
	}
	g := GridFit{Fit: f}
	sin, cos := math.Sincos(f.Turn.Radians())
	for way, along := range [2][2]float64{{cos, sin}, {-sin, cos}} {
		if way == 1 && rows == 0 {
			break
		}
		// a = Σ (x - x̄) z·along / Σ (x - x̄)²
		var mean, q float64
		for _, k := range cells {
			mean += float64(k[way]) / float64(n)
		}
		row := make([]float64, 2*n)
		for i, k := range cells {
			d := float64(k[way]) - mean
			q += d * d
			row[2*i], row[2*i+1] = d*along[0], d*along[1]
		}
		for i := range row {
			row[i] /= q
		}
		g.Pitch[way], g.PitchU[way] = f.Scale, m.SD(row)
	}
	g.Pitch[1] *= ratio
	return g, nil
}

// Along is Off(i) along the grid's rows and columns.
func (g *GridFit) Along(i int) Deviation {
	d := g.Off(i)
	sin, cos := math.Sincos(g.Turn.Radians())
	r, u := [2]float64{cos, sin}, [2]float64{-sin, cos}
	return Deviation{XY: [2]float64{d.In(r).Off, d.In(u).Off}, Cov: [2][2]float64{
		{quadratic(d.Cov, r, r), quadratic(d.Cov, r, u)}, {quadratic(d.Cov, u, r), quadratic(d.Cov, u, u)}}}
}
