package scanio

import (
	"archive/zip"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"path"
	"slices"
	"strings"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/mesh/geom"
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
	mf3DefaultModel = "3d/3dmodel.model"
)

var mf3Units = map[mf3Word]mesh.Unit{
	"": mesh.Millimetre, "millimeter": mesh.Millimetre, "centimeter": mesh.Centimetre,
	"meter": mesh.Metre, "inch": mesh.Inch, "foot": mesh.Foot,
	"micron": mesh.Millimetre, // scaled by mf3Micron
}

const mf3Micron = 0.001

// mf3Model is what the model part holds, as encoding/xml decodes it.
type mf3Model struct {
	XMLName xml.Name    `xml:"model"`
	Unit    mf3Word     `xml:"unit,attr"`
	Needs   mf3Word     `xml:"requiredextensions,attr"`
	Objects []mf3Object `xml:"resources>object"`
	Build   []mf3Item   `xml:"build>item"`
}

// mf3Object is a mesh or components.
type mf3Object struct {
	ID     string       `xml:"id,attr"`
	Points []mf3Numbers `xml:"mesh>vertices>vertex"`
	Tris   []mf3Numbers `xml:"mesh>triangles>triangle"`
	Parts  []mf3Item    `xml:"components>component"`
}

// mf3Item is an object put somewhere: a component, or an item of the build.
type mf3Item struct {
	Object string   `xml:"objectid,attr"`
	Move   *mf3Move `xml:"transform,attr"` // nil where it stays
}

// mf3Word is an attribute of the model that a reader may have to refuse.
type mf3Word string

func (w *mf3Word) UnmarshalXMLAttr(a xml.Attr) error {
	*w = mf3Word(a.Value)
	_, unit := mf3Units[*w]
	switch {
	case a.Name.Local == "unit" && !unit:
		return fmt.Errorf("the unit %s is none of the format's", quoted(a.Value))
	// Prefixes of what a reader must know; an unknown one must be refused
	// ("Model", requiredextensions).
	case a.Name.Local != "unit" && strings.TrimSpace(a.Value) != "":
		return fmt.Errorf("it needs extensions that are not read here: %s", quoted(a.Value))
	}
	return nil
}

// mf3Numbers are the coordinates of a vertex or the corners of a triangle, all
// of which have to be there.
type mf3Numbers [3]float64

func (v *mf3Numbers) UnmarshalXML(d *xml.Decoder, t xml.StartElement) error {
	names, most := [3]string{"x", "y", "z"}, math.Inf(1)
	if t.Name.Local == "triangle" {
		names, most = [3]string{"v1", "v2", "v3"}, math.MaxInt32-1
	}
	for k, name := range names {
		i := slices.IndexFunc(t.Attr, func(a xml.Attr) bool { return a.Name == xml.Name{Local: name} })
		if i < 0 {
			return fmt.Errorf("a %s has no %s", t.Name.Local, name)
		}
		text := []byte(t.Attr[i].Value)
		x, ok := number(text)
		if !ok || most < math.Inf(1) && (x < 0 || x > most || x != math.Trunc(x)) {
			return fmt.Errorf("%s of a %s is not a number of its kind: %s", name, t.Name.Local, quoted(text))
		}
		v[k] = x
	}
	return d.Skip()
}

// mf3Move is a 4 x 3 matrix: (x, y, z, 1) times its rows gives the point moved
// ("3D Matrices").
type mf3Move [4]r3.Vector

func (m *mf3Move) UnmarshalXMLAttr(a xml.Attr) error {
	_, err := fmt.Sscan(a.Value, &m[0].X, &m[0].Y, &m[0].Z, &m[1].X, &m[1].Y, &m[1].Z,
		&m[2].X, &m[2].Y, &m[2].Z, &m[3].X, &m[3].Y, &m[3].Z)
	n := len(strings.Fields(a.Value))
	if err != nil || n != 12 || !geom.Finite(m.apply(r3.Vector{X: 1, Y: 1, Z: 1})) {
		return fmt.Errorf("a transform needs 12 numbers, this has %d words: %s", n, quoted(a.Value))
	}
	return nil
}

// turn applies m to a direction.
func (m *mf3Move) turn(v r3.Vector) r3.Vector {
	return m[0].Mul(v.X).Add(m[1].Mul(v.Y)).Add(m[2].Mul(v.Z))
}

// apply applies m to a point.
func (m *mf3Move) apply(p r3.Vector) r3.Vector { return m.turn(p).Add(m[3]) }

// then returns the move that applies m first, unless it is nil, and then n.
func (m *mf3Move) then(n *mf3Move) *mf3Move {
	if m == nil {
		return n
	}
	return &mf3Move{n.turn(m[0]), n.turn(m[1]), n.turn(m[2]), n.apply(m[3])}
}

// mirrors reports whether a move turns windings over.
func (m *mf3Move) mirrors() bool { return m[0].Cross(m[1]).Dot(m[2]) < 0 }

// find3MF finds the 3D model part of a ZIP archive, nil where there is none.
// Names of parts are the same in any case.
func (in *input) find3MF() *zip.File {
	z, err := zip.NewReader(in.r, in.size)
	if err != nil {
		return nil
	}
	parts := map[string]*zip.File{}
	for _, f := range z.File {
		parts[strings.ToLower(strings.TrimPrefix(f.Name, "/"))] = f
	}
	var rels struct {
		Relationship []struct {
			Type   string `xml:",attr"`
			Target string `xml:",attr"`
		}
	}
	if f := parts["_rels/.rels"]; f != nil {
		if r, err := f.Open(); err == nil {
			_ = xml.NewDecoder(io.LimitReader(r, headSize)).Decode(&rels) // else the usual name
			r.Close()
		}
	}
	model := parts[mf3DefaultModel]
	for _, rel := range rels.Relationship {
		if rel.Type == mf3Relationship {
			model = parts[strings.ToLower(strings.TrimPrefix(path.Clean("/"+rel.Target), "/"))]
		}
	}
	return model
}

// read3MF reads a 3MF package.
func (in *input) read3MF(ctx context.Context) error {
	if in.model == nil {
		return in.fail("the file is no ZIP archive with a 3D model part", exportAgain)
	}
	m, err := in.decode3MF(ctx)
	if err != nil {
		return err
	}
	in.unit, in.said = mf3Units[m.Unit], "unit: "+string(m.Unit)
	objects := map[string]*mf3Object{}
	size := 0
	for i := range m.Objects {
		o := &m.Objects[i]
		if objects[o.ID] != nil || i == max3MFItems {
			return in.fail("object "+quoted(o.ID)+" is one of two with its id, or one too many", exportAgain)
		}
		objects[o.ID] = o
		size += len(o.Points) + len(o.Tris)
	}
	size = max(max3MFSize, max3MFCopies*size)
	items := 0
	var place func(list []mf3Item, holder *mf3Move) error
	place = func(list []mf3Item, holder *mf3Move) error {
		for _, item := range list {
			o := objects[item.Object]
			items++
			switch {
			case o == nil:
				return in.fail("no object has the id "+quoted(item.Object)+
					", which the build or a component names", exportAgain)
			case items > max3MFItems ||
				in.got.len()+len(in.got.tris)+len(o.Points)+len(o.Tris) > size:
				return in.fail("components hold themselves, or repeat more often than a scan can need",
					"export one copy of each part")
			}
			move := item.Move.then(holder)
			in.got.addMoved(o, move)
			if err := place(o.Parts, move); err != nil {
				return err
			}
		}
		return nil
	}
	scale := 1.0
	if m.Unit == "micron" && in.given == "" && !in.flat {
		scale = mf3Micron
	}
	if err := place(m.Build, &mf3Move{{X: scale}, {Y: scale}, {Z: scale}}); err != nil {
		return err
	}
	if in.got.len() == 0 {
		return in.fail("the build has no object with triangles", exportAgain)
	}
	return in.checkSurface()
}

// addMoved adds a copy of an object's mesh.
func (g *gathered) addMoved(o *mf3Object, move *mf3Move) {
	base, n := g.len(), len(o.Points)
	for _, p := range o.Points {
		g.double = append(g.double, move.apply(r3.Vector{X: p[0], Y: p[1], Z: p[2]}))
	}
	for _, corners := range o.Tris {
		t := [3]int32{-1, -1, -1}
		for k, v := range corners {
			if int(v) < n {
				t[k] = int32(int(v) + base)
			}
		}
		if move.mirrors() {
			t[1], t[2] = t[2], t[1]
		}
		g.tris = append(g.tris, t)
	}
}

// decode3MF decodes the model part, up to the size that is believed.
func (in *input) decode3MF(ctx context.Context) (m *mf3Model, err error) {
	r, err := in.model.Open()
	if err != nil {
		return nil, in.fail("the 3D model part cannot be unpacked: "+err.Error(), exportAgain)
	}
	defer r.Close()
	most := max3MFRatio * max(int64(in.model.CompressedSize64), least3MF)
	body := &io.LimitedReader{R: r, N: most + 1}
	d := xml.NewDecoder(readerFunc(func(b []byte) (int, error) {
		done := float64(most-body.N) / float64(max(1, in.model.UncompressedSize64))
		in.progress(int64(done * float64(in.size)))
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		return body.Read(b)
	}))
	line := 0
	if err = d.Decode(&m); err != nil {
		line, _ = d.InputPos()
	} else {
		_, err = io.Copy(io.Discard, body) // to its checksum
	}
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case body.N == 0:
		return nil, in.fail(fmt.Sprintf("the 3D model part unpacks to more than %d times its size",
			max3MFRatio), exportAgain)
	case err == nil:
		return m, nil
	case err == io.EOF:
		err = errors.New("it is empty")
	}
	e := in.fail("3D model part: "+err.Error(),
		"correct the file, or export it again as plain 3MF (core specification)")
	e.Line = line
	return nil, e
}

// readerFunc is a function that reads as io.Reader does.
type readerFunc func(b []byte) (int, error)

func (f readerFunc) Read(b []byte) (int, error) { return f(b) }
