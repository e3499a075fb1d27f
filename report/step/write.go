package step

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"

	"github.com/golang/geo/r2"
	"github.com/golang/geo/r3"
)

// Header is what a file says of itself.
type Header struct {
	Name        string   // of the part
	Description []string // sentences, such as what was adopted and what is missing
	Time        string   // ISO 8601; empty keeps the same bytes for the same part
	Tool        string   // program and version
}

// ErrNotFinite is returned where a number of a body is not finite.
var ErrNotFinite = errors.New("step: a number of the body is not finite")

// Write writes bodies as one product, each a solid where it is closed and a shell where not.
func Write(out io.Writer, h Header, bodies ...Body) error {
	w := &writer{ids: map[string]int{}, edges: map[int][]int{}}
	representation, items := "ADVANCED_BREP_SHAPE_REPRESENTATION", []int(nil)
	for i := range bodies {
		b := &bodies[i]
		for _, wall := range b.Walls {
			if len(wall.Low) != len(wall.High) || !(wall.Z0 < wall.Z1) {
				return fmt.Errorf("step: wall %s has no faces: its contours have %d and %d segments, "+
					"at %g and %g", wall.Name, len(wall.Low), len(wall.High), wall.Z0, wall.Z1)
			}
		}
		name := text(b.Name)
		faces := w.faces(b)
		if len(b.Open()) == 0 {
			items = append(items, w.add("MANIFOLD_SOLID_BREP(%s,#%d)", name,
				w.add("CLOSED_SHELL(%s,%s)", name, list(faces))))
			continue
		}
		representation = "MANIFOLD_SURFACE_SHAPE_REPRESENTATION"
		var shells []int
		for _, faces := range w.connected(faces) {
			shells = append(shells, w.add("OPEN_SHELL(%s,%s)", name, list(faces)))
		}
		items = append(items, w.add("SHELL_BASED_SURFACE_MODEL(%s,%s)", name, list(shells)))
	}
	if w.broken {
		return ErrNotFinite
	}
	axes := w.placement(r3.Vector{}, r3.Vector{Z: 1}, r3.Vector{X: 1})
	w.product(h.Name, representation, append(items, axes))

	var b bytes.Buffer
	description := text("")
	for i, s := range h.Description {
		if description += "," + text(s); i == 0 {
			description = text(s)
		}
	}
	// ISO 10303-21, clause 8: three header entities in this order. The schema is that of
	// ISO 10303-242, by its object identifier.
	fmt.Fprintf(&b, "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((%s),'2;1');\n", description)
	fmt.Fprintf(&b, "FILE_NAME(%s,%s,(''),(''),%s,%[3]s,'');\n", text(h.Name), text(h.Time),
		text(h.Tool))
	fmt.Fprintf(&b, "FILE_SCHEMA(('AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF "+
		"{ 1 0 10303 442 1 1 4 }'));\nENDSEC;\nDATA;\n%sENDSEC;\nEND-ISO-10303-21;\n", &w.data)
	_, err := out.Write(b.Bytes())
	return err
}

// writer numbers entities in the order in which they are made. An entity that says the same
// as an earlier one is that one: so faces share their edges, and edges their vertices.
type writer struct {
	data   bytes.Buffer
	ids    map[string]int
	sides  []int         // edges of the face that is being made
	edges  map[int][]int // of each face
	broken bool
}

func (w *writer) add(format string, args ...any) int {
	s := fmt.Sprintf(format, args...)
	id, ok := w.ids[s]
	if !ok {
		id = len(w.ids) + 1
		w.ids[s] = id
		fmt.Fprintf(&w.data, "#%d=%s;\n", id, s)
	}
	return id
}

// product adds what makes a product of the items, in millimetres and radians.
func (w *writer) product(name, representation string, items []int) {
	name = text(name)
	app := w.add("APPLICATION_CONTEXT('managed model based 3d engineering')")
	w.add("APPLICATION_PROTOCOL_DEFINITION('international standard',"+
		"'ap242_managed_model_based_3d_engineering',2014,#%d)", app)
	product := w.add("PRODUCT(%s,%[1]s,'',(#%d))", name,
		w.add("PRODUCT_CONTEXT('',#%d,'mechanical')", app))
	w.add("PRODUCT_RELATED_PRODUCT_CATEGORY('part',$,(#%d))", product)
	definition := w.add("PRODUCT_DEFINITION('design','',#%d,#%d)",
		w.add("PRODUCT_DEFINITION_FORMATION('','',#%d)", product),
		w.add("PRODUCT_DEFINITION_CONTEXT('part definition',#%d,'design')", app))
	mm := w.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))")
	context := w.add("(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#%d))"+
		"GLOBAL_UNIT_ASSIGNED_CONTEXT((#%d,#%d,#%d))REPRESENTATION_CONTEXT('',''))",
		w.add("UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-6),#%d,"+
			"'distance_accuracy_value','')", mm), mm,
		w.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))"),
		w.add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())"))
	w.add("SHAPE_DEFINITION_REPRESENTATION(#%d,#%d)",
		w.add("PRODUCT_DEFINITION_SHAPE('','',#%d)", definition),
		w.add("%s(%s,%s,#%d)", representation, name, list(items), context))
}

// face adds a face with the edges that were made since the last one.
func (w *writer) face(name string, bounds []int, surface int, same bool) int {
	face := w.add("ADVANCED_FACE(%s,%s,#%d,%s)", text(name), list(bounds), surface, logical(same))
	w.edges[face], w.sides = w.sides, nil
	return face
}

// connected divides the faces into groups that share edges.
func (w *writer) connected(faces []int) [][]int {
	var groups [][]int
	for _, f := range faces {
		joined := []int{f}
		groups = slices.DeleteFunc(groups, func(g []int) bool {
			of := func(e int) bool { return slices.Contains(w.edges[f], e) }
			shares := slices.ContainsFunc(g, func(o int) bool {
				return slices.ContainsFunc(w.edges[o], of)
			})
			if shares {
				joined = append(joined, g...)
			}
			return shares
		})
		groups = append(groups, joined)
	}
	return groups
}

// faces adds all faces of the body.
func (w *writer) faces(b *Body) []int {
	var faces []int
	for _, f := range b.Floors {
		out := r3.Vector{Z: 1}
		if !f.Up {
			out.Z = -1
		}
		bounds := []int{w.add("FACE_OUTER_BOUND('',#%d,.T.)", w.loop(f.Outer, f.Z, f.Up))}
		for _, c := range f.Inner {
			bounds = append(bounds, w.add("FACE_BOUND('',#%d,.T.)", w.loop(c, f.Z, !f.Up)))
		}
		plane := w.add("PLANE('',#%d)", w.placement(r3.Vector{Z: f.Z}, out, r3.Vector{X: 1}))
		faces = append(faces, w.face(f.Name, bounds, plane, true))
	}
	for _, wall := range b.Walls {
		for i := range wall.Low {
			faces = append(faces, w.wall(&wall, i))
		}
	}
	return faces
}

// ring adds the loop of the edges, those with a minus against their direction, or where along is
// false against all that.
func (w *writer) ring(sides []int, along bool) int {
	var edges []int
	for _, s := range sides {
		forward := s > 0
		if !forward {
			s = -s
		}
		w.sides = append(w.sides, s)
		edges = append(edges, w.add("ORIENTED_EDGE('',*,*,#%d,%s)", s, logical(forward == along)))
	}
	if !along {
		slices.Reverse(edges)
	}
	return w.add("EDGE_LOOP('',%s)", list(edges))
}

// loop adds the contour at height z, with its direction or against it.
func (w *writer) loop(c Contour, z float64, along bool) int {
	var sides []int
	for i := range c {
		sides = append(sides, w.edge(c, i, z))
	}
	return w.ring(sides, along)
}

// wall adds the face over segment i. Its loop runs along the low contour, up, back along the
// high contour and down; over a whole circle up and down are one edge, the seam.
func (w *writer) wall(f *Wall, i int) int {
	low, high := f.Low[i], f.High[i]
	next := (i + 1) % len(f.Low)
	loop := w.ring([]int{
		w.edge(f.Low, i, f.Z0),
		w.line(at(f.Low[next].Start, f.Z0), at(f.High[next].Start, f.Z1)),
		-w.edge(f.High, i, f.Z1),
		-w.line(at(low.Start, f.Z0), at(high.Start, f.Z1)),
	}, !f.Internal)
	bound := w.add("FACE_OUTER_BOUND('',#%d,.T.)", loop)

	// The normal of a cylinder or cone points away from its axis, that of the plane made
	// here to the right of the segment, which is out of a contour.
	same := !f.Internal
	radius := math.Abs(low.Radius)
	if radius == 0 {
		along := f.Low.end(i).Sub(low.Start).Normalize()
		place := w.placement(at(low.Start, f.Z0), at(along.Ortho().Mul(-1), 0), at(along, 0))
		return w.face(f.Name, []int{bound}, w.add("PLANE('',#%d)", place), same)
	}
	kind, axis, size := "CYLINDRICAL_SURFACE", r3.Vector{Z: 1}, w.number(radius)
	if grow := (math.Abs(high.Radius) - radius) / (f.Z1 - f.Z0); grow != 0 {
		// The radius of a conical surface grows along its axis.
		kind, axis.Z = "CONICAL_SURFACE", math.Copysign(1, grow)
		size += "," + w.number(math.Atan(math.Abs(grow)))
	}
	x := at(low.Start.Sub(low.Centre).Normalize(), 0)
	surface := w.add("%s('',#%d,%s)", kind, w.placement(at(low.Centre, f.Z0), axis, x), size)
	return w.face(f.Name, []int{bound}, surface, same == (low.Radius > 0))
}

// edge adds segment i of the contour at height z.
func (w *writer) edge(c Contour, i int, z float64) int {
	s := c[i]
	from, to := at(s.Start, z), at(c.end(i), z)
	if s.Radius == 0 {
		return w.line(from, to)
	}
	place := w.placement(at(s.Centre, z), r3.Vector{Z: math.Copysign(1, s.Radius)},
		at(s.Start.Sub(s.Centre).Normalize(), 0))
	circle := w.add("CIRCLE('',#%d,%s)", place, w.number(math.Abs(s.Radius)))
	return w.add("EDGE_CURVE('',#%d,#%d,#%d,.T.)", w.vertex(from), w.vertex(to), circle)
}

func (w *writer) line(from, to r3.Vector) int {
	along := w.add("VECTOR('',#%d,1.)", w.direction(to.Sub(from).Normalize()))
	return w.add("EDGE_CURVE('',#%d,#%d,#%d,.T.)", w.vertex(from), w.vertex(to),
		w.add("LINE('',#%d,#%d)", w.point(from), along))
}

func (w *writer) vertex(p r3.Vector) int { return w.add("VERTEX_POINT('',#%d)", w.point(p)) }

func (w *writer) point(p r3.Vector) int { return w.triple("CARTESIAN_POINT", p) }

func (w *writer) direction(p r3.Vector) int { return w.triple("DIRECTION", p) }

func (w *writer) triple(kind string, p r3.Vector) int {
	return w.add("%s('',(%s,%s,%s))", kind, w.number(p.X), w.number(p.Y), w.number(p.Z))
}

func (w *writer) placement(origin, z, x r3.Vector) int {
	return w.add("AXIS2_PLACEMENT_3D('',#%d,#%d,#%d)", w.point(origin), w.direction(z),
		w.direction(x))
}

// number writes a REAL, which must have a decimal point (ISO 10303-21, clause 6.4.2).
func (w *writer) number(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		w.broken = true
	}
	s := strconv.FormatFloat(v+0, 'G', -1, 64) // + 0 makes -0 a zero
	mantissa, exponent, has := strings.Cut(s, "E")
	if !strings.Contains(mantissa, ".") {
		mantissa += "."
	}
	if has {
		return mantissa + "E" + exponent
	}
	return mantissa
}

// text writes a STRING: quotes and backslashes are doubled, and what is not printable ASCII
// is written in UTF-16 (ISO 10303-21, clause 6.4.3).
func text(s string) string {
	var b strings.Builder
	b.WriteByte('\'')
	for _, r := range s {
		switch {
		case r == '\'' || r == '\\':
			b.WriteRune(r)
			b.WriteRune(r)
		case r >= ' ' && r < 0x7f:
			b.WriteRune(r)
		default:
			b.WriteString(`\X2\`)
			for _, u := range utf16.Encode([]rune{r}) {
				fmt.Fprintf(&b, "%04X", u)
			}
			b.WriteString(`\X0\`)
		}
	}
	b.WriteByte('\'')
	return b.String()
}

func list(ids []int) string {
	s := make([]string, len(ids))
	for i, id := range ids {
		s[i] = "#" + strconv.Itoa(id)
	}
	return "(" + strings.Join(s, ",") + ")"
}

func logical(b bool) string {
	if b {
		return ".T."
	}
	return ".F."
}

// at is the point p of the plane at height z.
func at(p r2.Point, z float64) r3.Vector { return r3.Vector{X: p.X, Y: p.Y, Z: z} }
