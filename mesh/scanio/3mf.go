package scanio

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// 3MF (3MF Consortium, 3D Manufacturing Format, Core Specification; sections
// named here are from memory): a ZIP package after the Open Packaging
// Conventions, in which a relationship points to the 3D model part, an XML
// document ("Part Relationships"). Its resources are objects, each a mesh or
// components, which are other objects moved ("Object Resources"). Only what the
// build lists is there ("Build Instructions"). Its unit is an attribute of
// the model, millimetre if absent ("Model").

const (
	mf3Relationship = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
	mf3DefaultModel = "3D/3dmodel.model"
)

var mf3Units = map[string]mesh.Unit{
	"": mesh.Millimetre, "millimeter": mesh.Millimetre, "centimeter": mesh.Centimetre,
	"meter": mesh.Metre, "inch": mesh.Inch, "foot": mesh.Foot,
	"micron": mesh.Millimetre, // scaled by mf3Micron
}

const mf3Micron = 0.001

// mf3Transform is a 4 x 3 matrix in rows, as the file has it: (x, y, z, 1)
// times it gives the point moved ("3D Matrices").
type mf3Transform [12]float64

var mf3Identity = mf3Transform{0: 1, 4: 1, 8: 1}

func (m *mf3Transform) apply(p r3.Vector) r3.Vector {
	return r3.Vector{
		X: p.X*m[0] + p.Y*m[3] + p.Z*m[6] + m[9],
		Y: p.X*m[1] + p.Y*m[4] + p.Z*m[7] + m[10],
		Z: p.X*m[2] + p.Y*m[5] + p.Z*m[8] + m[11],
	}
}

// then returns the transform that applies m first and then n.
func (m *mf3Transform) then(n *mf3Transform) (out mf3Transform) {
	for row := range 4 {
		for col := range 3 {
			for k := range 3 {
				out[3*row+col] += m[3*row+k] * n[3*k+col]
			}
			if row == 3 {
				out[9+col] += n[9+col]
			}
		}
	}
	return out
}

// mirrors reports whether a transform turns windings over.
func (m *mf3Transform) mirrors() bool {
	a, b, c := r3.Vector{X: m[0], Y: m[1], Z: m[2]}, r3.Vector{X: m[3], Y: m[4], Z: m[5]}, r3.Vector{X: m[6], Y: m[7], Z: m[8]}
	return a.Cross(b).Dot(c) < 0
}

// mf3Item is an object put somewhere: a component, or an item of the build.
type mf3Item struct {
	object string
	move   mf3Transform
}

// mf3Object is a mesh or components.
type mf3Object struct {
	points []r3.Vector
	tris   [][3]int32
	parts  []mf3Item
}

// mf3Model is what the model part holds.
type mf3Model struct {
	unit    string
	objects map[string]*mf3Object
	build   []mf3Item
	size    int // points and triangles of all objects
}

// find3MF reports whether a ZIP archive is a 3MF package, and where its model
// is. An archive that calls itself 3MF is taken for one.
func (in *input) find3MF(claimed string) bool {
	z, err := zip.NewReader(in.r, in.size)
	if err != nil {
		return claimed == format3MF
	}
	in.model = modelPart(z)
	return in.model != nil || claimed == format3MF
}

// modelPart finds the 3D model part of a package.
func modelPart(z *zip.Reader) *zip.File {
	name := mf3DefaultModel
	if f := partNamed(z, "_rels/.rels"); f != nil {
		var rels struct {
			Relationship []struct {
				Type   string `xml:",attr"`
				Target string `xml:",attr"`
			}
		}
		if r, err := f.Open(); err == nil {
			_ = xml.NewDecoder(io.LimitReader(r, 1<<16)).Decode(&rels) // else the usual name
			r.Close()
		}
		for _, rel := range rels.Relationship {
			if rel.Type == mf3Relationship {
				name = strings.TrimPrefix(path.Clean("/"+rel.Target), "/")
			}
		}
	}
	return partNamed(z, name)
}

// partNamed returns a part of a package; names are the same in any case.
func partNamed(z *zip.Reader, name string) *zip.File {
	for _, f := range z.File {
		if strings.EqualFold(strings.TrimPrefix(f.Name, "/"), name) {
			return f
		}
	}
	return nil
}

// read3MF reads a 3MF package.
func (in *input) read3MF(ctx context.Context, given mesh.Unit) error {
	const damaged = "export or copy the file again"
	if in.model == nil {
		return in.fail("the file is no ZIP archive with a 3D model part", damaged)
	}
	r, err := in.model.Open()
	if err != nil {
		return in.fail("the 3D model part cannot be unpacked: "+err.Error(), damaged)
	}
	defer r.Close()
	limit := max(int64(in.model.CompressedSize64), 1<<12) * max3MFRatio
	packed := &mf3Reader{ctx: ctx, r: r, left: limit, in: in,
		rate: float64(in.size) / float64(max(1, in.model.UncompressedSize64))}
	m, line, err := parse3MF(packed)
	var bad *mf3Error
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case packed.err != nil && !errors.Is(packed.err, io.EOF):
		return packed.err
	case errors.As(err, &bad):
		e := in.fail("3D model part: "+bad.what, bad.fix)
		e.Line = line
		return e
	case err != nil:
		e := in.fail("3D model part: "+err.Error(), damaged)
		e.Line = line
		return e
	}
	in.unit, in.said = mf3Units[m.unit], "unit: "+m.unit
	scale := mf3Identity
	if m.unit == "micron" && given == "" && !in.flat {
		scale = mf3Transform{0: mf3Micron, 4: mf3Micron, 8: mf3Micron}
	}
	b := mf3Builder{in: in, model: m}
	for i := range m.build {
		if err := b.place(&m.build[i], &scale, 0); err != nil {
			return err
		}
	}
	if in.got.len() == 0 {
		return in.fail("the build has no object with triangles", "export the scan again")
	}
	return nil
}

// mf3Reader reads a packed part up to a limit.
type mf3Reader struct {
	ctx  context.Context
	r    io.Reader
	in   *input
	left int64
	open int     // bytes since the last element began
	rate float64 // bytes of the file a byte unpacked
	done float64
	err  error
}

func (r *mf3Reader) Read(b []byte) (int, error) {
	if r.err = r.ctx.Err(); r.err != nil {
		return 0, r.err
	}
	n, err := r.r.Read(b)
	r.done += float64(n) * r.rate
	r.in.meter.done.Store(min(int64(r.done), r.in.size))
	r.open += n
	if i := bytes.LastIndexByte(b[:n], '<'); i >= 0 {
		r.open = n - i
	}
	r.left -= int64(n)
	what := ""
	if r.left < 0 {
		what = fmt.Sprintf("unpacks to more than %d times its size", max3MFRatio)
	} else if r.open > max3MFElement {
		what = "has an element of more than " + quantity(max3MFElement, "byte")
	}
	if what != "" {
		r.err = r.in.fail("the 3D model part "+what, "export the scan again")
		return 0, r.err
	}
	return n, err
}

// mf3Error says what is wrong with a model.
type mf3Error struct{ what, fix string }

func (e *mf3Error) Error() string { return e.what }

func mf3Bad(format string, args ...any) error {
	return &mf3Error{fmt.Sprintf(format, args...), "correct the file or export it again"}
}

// parse3MF reads a model part, and says on which line it stopped.
func parse3MF(r io.Reader) (m *mf3Model, line int, err error) {
	d := xml.NewDecoder(r)
	m = &mf3Model{objects: map[string]*mf3Object{}}
	var object *mf3Object
	root := true
	for {
		token, err := d.Token()
		line, _ = d.InputPos()
		if err == io.EOF && root {
			return nil, line, mf3Bad("it is empty")
		}
		if err == io.EOF {
			return m, line, nil
		}
		if err != nil {
			return nil, line, err
		}
		switch t := token.(type) {
		case xml.EndElement:
			if t.Name.Local == "object" {
				object = nil
			}
		case xml.StartElement:
			if root != (t.Name.Local == "model") {
				return nil, line, mf3Bad("model must be the outermost element, and is not %s", t.Name.Local)
			}
			if root {
				root = false
				err = m.open(t)
			} else if object, err = m.element(t, object); err != nil {
				return nil, line, err
			}
			if err != nil {
				return nil, line, err
			}
		}
	}
}

// open takes the model element.
func (m *mf3Model) open(t xml.StartElement) error {
	m.unit = attribute(t, "unit")
	if _, ok := mf3Units[m.unit]; !ok {
		return mf3Bad("the unit %s is none of the format's", quoted([]byte(m.unit)))
	}
	// Prefixes of what a reader must know; an unknown one must be refused
	// ("Model", requiredextensions).
	if need := attribute(t, "requiredextensions"); strings.TrimSpace(need) != "" {
		return &mf3Error{"it needs extensions that are not read here: " + quoted([]byte(need)),
			"export it as plain 3MF (core specification), STL or PLY"}
	}
	return nil
}

// element takes an element within the model; object is the one that is open.
func (m *mf3Model) element(t xml.StartElement, object *mf3Object) (*mf3Object, error) {
	var err error
	switch name := t.Name.Local; {
	case name == "object":
		id := attribute(t, "id")
		if m.objects[id] != nil || len(m.objects) == max3MFItems {
			return nil, mf3Bad("object %s is one of two with its id, or one too many", quoted([]byte(id)))
		}
		object = &mf3Object{}
		m.objects[id] = object
	case name == "item":
		var item mf3Item
		item, err = newItem(t)
		m.build = append(m.build, item)
	case object == nil:
	case name == "component":
		var item mf3Item
		item, err = newItem(t)
		object.parts = append(object.parts, item)
	case name == "vertex":
		var v [3]float64
		for k, axis := range [3]string{"x", "y", "z"} {
			s := attribute(t, axis)
			var n int
			var ok bool
			if v[k], n, ok = number([]byte(s), 0); !ok || n < len(s) {
				return nil, mf3Bad("%s of a vertex is not a number: %s", axis, quoted([]byte(s)))
			}
		}
		object.points = append(object.points, r3.Vector{X: v[0], Y: v[1], Z: v[2]})
		m.size++
	case name == "triangle":
		var tri [3]int32
		for k, corner := range [3]string{"v1", "v2", "v3"} {
			n, e := strconv.ParseUint(attribute(t, corner), 10, 31)
			if e != nil {
				return nil, mf3Bad("%s of a triangle is not a whole number: %s", corner, quoted([]byte(attribute(t, corner))))
			}
			tri[k] = int32(n)
		}
		object.tris = append(object.tris, tri)
		m.size++
		if len(object.tris) > manyTriangles && len(object.tris) > perPoint*len(object.points) {
			return nil, mf3Bad("%s on %s are no surface", quantity(len(object.tris), "triangle"), quantity(len(object.points), "point"))
		}
	}
	return object, err
}

// newItem takes a component of an object or an item of the build.
func newItem(t xml.StartElement) (mf3Item, error) {
	item := mf3Item{object: attribute(t, "objectid"), move: mf3Identity}
	if s := attribute(t, "transform"); s != "" {
		f := strings.Fields(s)
		if len(f) != len(item.move) {
			return item, mf3Bad("a transform needs 12 numbers, this has %d", len(f))
		}
		for k, w := range f {
			n, ok := 0, false
			if item.move[k], n, ok = number([]byte(w), 0); !ok || n < len(w) || item.move[k]-item.move[k] != 0 {
				return item, mf3Bad("a transform holds what is not a number: %s", quoted([]byte(w)))
			}
		}
	}
	return item, nil
}

// attribute returns an attribute of no name space, or "".
func attribute(t xml.StartElement, name string) string {
	for _, a := range t.Attr {
		if a.Name.Space == "" && a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// mf3Builder puts objects where the build has them.
type mf3Builder struct {
	in    *input
	model *mf3Model
	items int
}

// place adds an item, moved by what holds it.
func (b *mf3Builder) place(item *mf3Item, holder *mf3Transform, depth int) error {
	o := b.model.objects[item.object]
	b.items++
	g := &b.in.got
	switch {
	case o == nil:
		return b.in.fail("no object has the id "+quoted([]byte(item.object))+", which the build or a component names", "export the file again")
	case depth > max3MFDepth:
		return b.in.fail(fmt.Sprintf("components lie more than %d deep within components, or hold themselves", max3MFDepth), "export the file again")
	case b.items > max3MFItems || g.len()+len(g.tris)+len(o.points)+len(o.tris) > max(max3MFSize, max3MFCopies*b.model.size):
		return b.in.fail("components repeat more often than a scan can need", "export one copy of each part")
	}
	move := item.move.then(holder)
	base := int32(g.len())
	for _, p := range o.points {
		g.double = append(g.double, move.apply(p))
	}
	for _, t := range o.tris {
		for k, v := range t {
			if int(v) >= len(o.points) {
				t[k] = -1
			} else {
				t[k] = v + base
			}
		}
		if move.mirrors() {
			t[1], t[2] = t[2], t[1]
		}
		g.tris = append(g.tris, t)
	}
	for i := range o.parts {
		if err := b.place(&o.parts[i], &move, depth+1); err != nil {
			return err
		}
	}
	return nil
}
