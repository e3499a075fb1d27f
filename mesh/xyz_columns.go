package mesh

import (
	"math"
	"strings"
)

// columnNames splits a header row into names, nil if x and y are not among
// them.
func columnNames(t []byte) []string {
	const longest = 1 << 12
	if len(t) > longest {
		return nil
	}
	split := func(c rune) bool { return strings.ContainsRune(",;\t", c) }
	s := string(t)
	if !strings.ContainsAny(s, ",;\t") {
		split = func(c rune) bool { return c == ' ' }
	}
	var names []string
	hasX, hasY := false, false
	for _, f := range strings.FieldsFunc(s, split) {
		if f = columnName(f); f == "" {
			continue
		}
		hasX, hasY = hasX || f == "x", hasY || f == "y"
		names = append(names, f)
	}
	if !hasX || !hasY {
		return nil
	}
	return names
}

// namesColumns reports whether a line is a header row.
func namesColumns(line []byte) bool { return columnNames(line) != nil }

// unitOfRow returns the unit where a row has nothing but one unit's name in its
// columns, as a row under a header row may.
func unitOfRow(t []byte) (u Unit) {
	const longest = 200
	if len(t) > longest {
		return ""
	}
	for _, f := range strings.FieldsFunc(string(t), func(c rune) bool { return strings.ContainsRune(",;\t ", c) }) {
		is, ok := unitWords[strings.ToLower(strings.Trim(f, "[]()\""))]
		if !ok || u != "" && is != u {
			return ""
		}
		u = is
	}
	return u
}

// columnName reduces a name to x, y, z, nx, ny, nz where it means one of
// them: "X [mm]", "\"Normal_Y\"", "pos_z". A unit alone, split off by a space, is no name.
func columnName(f string) string {
	f = strings.ToLower(strings.Trim(f, " \"'\r"))
	if i := strings.IndexAny(f, "[("); i >= 0 {
		if f = f[:i]; f == "" {
			return ""
		}
	}
	f = strings.Map(func(c rune) rune {
		if strings.ContainsRune("_-. :", c) {
			return -1
		}
		return c
	}, f)
	for _, axis := range []string{"x", "y", "z"} {
		switch f {
		case axis + "mm", axis + "cm", axis + "m", axis + "in", axis + "inch", axis + "ft",
			"p" + axis, "pos" + axis, "position" + axis, "point" + axis,
			axis + "coordinate", axis + "coord", "coord" + axis:
			return axis
		case "normal" + axis, axis + "normal", "norm" + axis:
			return "n" + axis
		}
	}
	return f
}

// nameColumns sets the roles from a header row.
func (in *input) nameColumns(names []string, at int64) error {
	l := in.xyz
	role := map[string]uint8{"x": roleX, "y": roleY, "z": roleZ, "nx": roleNX, "ny": roleNY, "nz": roleNZ}
	place := map[string]int{}
	last := 0
	for i, n := range names {
		if _, ok := role[n]; !ok {
			continue
		}
		if _, twice := place[n]; twice {
			return in.failLine(at, "the header row names "+n+" twice", "rename the other column")
		}
		place[n] = i
	}
	_, hasZ := place["z"]
	_, x := place["nx"]
	_, y := place["ny"]
	_, z := place["nz"]
	l.normals = x && y && z
	if !hasZ && !in.exact {
		return in.failLine(at, "the header row names no column z", "export points with three coordinates")
	}
	l.flat = !hasZ
	for i, n := range names {
		r, ok := role[n]
		if !ok || r >= roleNX && !l.normals {
			r = roleOther
		} else {
			last = i
		}
		l.roles = append(l.roles, r)
	}
	l.roles = l.roles[:last+1]
	return nil
}

// normalColumn returns the first of three columns that hold a unit vector in
// every row, or 0.
func (l *xyzLayout) normalColumn(rows [][]byte, fields int) int {
	for c := 3; c+3 <= fields && c < 16; c++ {
		some, all := false, true
		try := xyzLayout{point: l.point, hard: l.hard, normals: true}
		for k := range c {
			try.roles = append(try.roles, uint8(min(k, roleOther)))
			if k >= 3 {
				try.roles[k] = roleOther
			}
		}
		try.roles = append(try.roles, roleNX, roleNY, roleNZ)
		for _, row := range rows {
			var v [xyzRoles]float64
			if _, ok := try.parse(row, 0, &v); !ok {
				continue
			}
			n := math.Sqrt(v[roleNX]*v[roleNX] + v[roleNY]*v[roleNY] + v[roleNZ]*v[roleNZ])
			// Rounded to as little as two decimals; none known is zero or NaN.
			switch {
			case math.Abs(n-1) < 0.02:
				some = true
			case n == 0 || math.IsNaN(n):
			default:
				all = false
			}
		}
		if some && all {
			return c
		}
	}
	return 0
}
