package scanio

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/xml"
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
	a := r3.Vector{X: m[0], Y: m[1], Z: m[2]}
	b := r3.Vector{X: m[3], Y: m[4], Z: m[5]}
	c := r3.Vector{X: m[6], Y: m[7], Z: m[8]}
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
	m, err := in.parse3MF(packed)
	switch {
	case packed.err != nil:
		return packed.err
	case err != nil:
		return err
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
	if err != nil && err != io.EOF {
		r.err = r.in.fail("the 3D model part cannot be unpacked: "+err.Error(),
			"export or copy the file again")
	}
	r.done += float64(n) * r.rate
	r.in.meter.at(int64(r.done))
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

// parse3MF reads a model part.
func (in *input) parse3MF(r io.Reader) (*mf3Model, error) {
	d := xml.NewDecoder(r)
	var m *mf3Model
	var object *mf3Object // that is open
	for {
		token, err := d.Token()
		what := ""
		switch t := token.(type) {
		case xml.EndElement:
			if t.Name.Local == "object" {
				object = nil
			}
		case xml.StartElement:
			if m != nil {
				object, what = m.element(t, object)
			} else if m = (&mf3Model{objects: map[string]*mf3Object{}}); t.Name.Local == "model" {
				what = m.open(t)
			} else {
				what = "model must be the outermost element, and is not " + t.Name.Local
			}
		}
		switch {
		case err == io.EOF && m != nil:
			return m, nil
		case err == io.EOF:
			what = "it is empty"
		case err != nil:
			what = err.Error()
		case what == "":
			continue
		}
		e := in.fail("3D model part: "+what,
			"correct the file, or export it again as plain 3MF (core specification)")
		e.Line, _ = d.InputPos()
		return nil, e
	}
}

// open takes the model element and returns what is wrong with it.
func (m *mf3Model) open(t xml.StartElement) (what string) {
	m.unit = attribute(t, "unit")
	if _, ok := mf3Units[m.unit]; !ok {
		return "the unit " + quoted([]byte(m.unit)) + " is none of the format's"
	}
	// Prefixes of what a reader must know; an unknown one must be refused
	// ("Model", requiredextensions).
	if need := attribute(t, "requiredextensions"); strings.TrimSpace(need) != "" {
		return "it needs extensions that are not read here: " + quoted([]byte(need))
	}
	return ""
}

// element takes an element within the model and returns what is wrong with it;
// object is the one that is open.
func (m *mf3Model) element(t xml.StartElement, object *mf3Object) (*mf3Object, string) {
	what := ""
	switch name := t.Name.Local; {
	case name == "object":
		id := attribute(t, "id")
		if m.objects[id] != nil || len(m.objects) == max3MFItems {
			what = "object " + quoted([]byte(id)) + " is one of two with its id, or one too many"
		}
		object = &mf3Object{}
		m.objects[id] = object
	case name == "item":
		what = addItem(t, &m.build)
	case object == nil:
	case name == "component":
		what = addItem(t, &object.parts)
	case name == "vertex":
		var v [3]float64
		for k, axis := range [3]string{"x", "y", "z"} {
			if s := attribute(t, axis); !numberIn(s, &v[k]) {
				what = axis + " of a vertex is not a number: " + quoted([]byte(s))
			}
		}
		object.points = append(object.points, r3.Vector{X: v[0], Y: v[1], Z: v[2]})
		m.size++
	case name == "triangle":
		var tri [3]int32
		for k, corner := range [3]string{"v1", "v2", "v3"} {
			s := attribute(t, corner)
			n, err := strconv.ParseUint(s, 10, 31)
			if err != nil {
				what = corner + " of a triangle is not a whole number: " + quoted([]byte(s))
			}
			tri[k] = int32(n)
		}
		object.tris = append(object.tris, tri)
		m.size++
		if n := len(object.tris); n > manyTriangles && n > perPoint*len(object.points) {
			what = quantity(n, "triangle") + " on " + quantity(len(object.points), "point") +
				" are no surface"
		}
	}
	return object, what
}

// numberIn reads a number that is all of s.
func numberIn(s string, v *float64) bool {
	x, n, ok := number([]byte(s), 0)
	*v = x
	return ok && n == len(s)
}

// addItem adds a component of an object or an item of the build; it returns
// what is wrong with it.
func addItem(t xml.StartElement, list *[]mf3Item) (what string) {
	item := mf3Item{object: attribute(t, "objectid"), move: mf3Identity}
	if f := strings.Fields(attribute(t, "transform")); len(f) > 0 {
		if len(f) != len(item.move) {
			return fmt.Sprintf("a transform needs 12 numbers, this has %d", len(f))
		}
		for k, w := range f {
			if x := &item.move[k]; !numberIn(w, x) || *x-*x != 0 {
				return "a transform holds what is not a number: " + quoted([]byte(w))
			}
		}
	}
	*list = append(*list, item)
	return ""
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
	most := max(max3MFSize, max3MFCopies*b.model.size)
	switch {
	case o == nil:
		return b.in.fail("no object has the id "+quoted([]byte(item.object))+
			", which the build or a component names", "export the file again")
	case depth > max3MFDepth:
		return b.in.fail("components hold themselves, or lie too deep within components",
			"export the file again")
	case b.items > max3MFItems || g.len()+len(g.tris)+len(o.points)+len(o.tris) > most:
		return b.in.fail("components repeat more often than a scan can need",
			"export one copy of each part")
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
