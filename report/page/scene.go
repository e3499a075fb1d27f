package page

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"html/template"
	"math"

	"github.com/golang/geo/r3"

	"spotface/mesh"
	"spotface/report"
	"spotface/report/deviation"
	"spotface/report/wording"
)

// scene is the scan as the page's script draws it.
type scene struct {
	Note   string // what is shown, and what was thinned
	Legend []deviation.Entry
	Head   sceneHead     // the layout writes it as JSON
	Data   template.HTML // base64 of gzip, see encode
}

// sceneHead tells the script what Data holds, in the part's frame, mm.
type sceneHead struct {
	Points    int         `json:"points"`
	Triangles int         `json:"triangles"` // 0: a cloud
	Lo        [3]float64  `json:"lo"`
	Size      [3]float64  `json:"size"`      // of the box, which positions are shares of
	Deviation float64     `json:"deviation"` // the largest
	Colours   []string    `json:"colours"`
	Rings     []sceneRing `json:"rings"`
	Holes     []sceneRing `json:"holes"`
}

// sceneRing is a circle of an ideal face.
type sceneRing struct {
	ID     string     `json:"id"`
	Centre report.Vec `json:"centre"`
	Axis   report.Vec `json:"axis"`
	Radius float64    `json:"radius"`
}

func newScene(p Page) *scene {
	rep, scan := p.Report, p.Scan
	if in, err := report.InDatumFrame(rep); err == nil {
		f := rep.Frame
		rep, scan = in, scan.In(f.Origin.R3(), f.X.R3(), f.Y.R3(), f.Z.R3())
	}
	h := sceneHead{Rings: []sceneRing{}, Holes: []sceneRing{}} // the script wants lists, if empty
	s := &scene{Legend: p.Deviations.Legend(p.how())}
	for _, e := range s.Legend {
		h.Colours = append(h.Colours, e.Colour)
	}
	for _, list := range [][]report.Hole{rep.Holes, rep.Studs} {
		for _, k := range list {
			radius := max(k.Diameter, k.Width, k.Length) / 2
			h.Holes = append(h.Holes, sceneRing{k.ID, k.Centre, k.Axis, radius})
		}
	}
	for _, c := range rep.Cylinders {
		from, to := c.Ends()
		for _, end := range []r3.Vector{from, to} {
			centre := report.Vec{end.X, end.Y, end.Z}
			h.Rings = append(h.Rings, sceneRing{c.ID, centre, c.Axis, c.Diameter / 2})
		}
	}
	what := "points"
	if scan.IsMesh() {
		what = "triangles"
	}
	points, triangles, cell := thin(scan)
	h.Points, h.Triangles = len(points), len(triangles)
	all, shown := scan.Len(), len(points)
	if scan.IsMesh() {
		all, shown = len(scan.Triangles), len(triangles)
	}
	s.Note = fmt.Sprintf("All %s %s of the scan are shown.", wording.Count(all), what)
	if cell > 0 {
		unit, mm, decimals := p.how().Lengths()
		s.Note = fmt.Sprintf("Thinned for this view: of %s %s %s are shown, one point in each cube "+
			"of %.*f %s. Numbers are from all.", wording.Count(all), what, wording.Count(shown),
			decimals-1, cell/mm, unit)
	}
	packed := h.encode(scan, p.Deviations, points, triangles)
	s.Data = template.HTML(base64.StdEncoding.EncodeToString(packed))
	s.Head = h
	return s
}

// encode packs points and triangles, little-endian, and fills what the head says of them:
// positions (3 uint16 a point, shares of the box), deviations (int16, of the largest), classes
// (uint8, an entry of the legend), each list padded to 4 bytes; then the corners of the
// triangles (int32, each less the corner before).
func (h *sceneHead) encode(s *mesh.Scan, m *deviation.Map, points []int32,
	triangles [][3]int32) []byte {
	le := binary.LittleEndian
	lo, hi := s.Bounds()
	size := hi.Sub(lo)
	h.Lo, h.Size = [3]float64{lo.X, lo.Y, lo.Z}, [3]float64{size.X, size.Y, size.Z}
	for _, i := range points {
		if d := math.Abs(float64(m.Distance[i])); d > h.Deviation {
			h.Deviation = d
		}
	}
	var raw []byte
	pad := func() {
		for len(raw)%4 != 0 {
			raw = append(raw, 0)
		}
	}
	share := func(v, of float64) uint16 {
		return uint16(math.Round(65535 * v / max(of, math.SmallestNonzeroFloat64)))
	}
	for _, i := range points {
		q := s.Point(int(i)).Sub(lo)
		raw = le.AppendUint16(raw, share(q.X, size.X))
		raw = le.AppendUint16(raw, share(q.Y, size.Y))
		raw = le.AppendUint16(raw, share(q.Z, size.Z))
	}
	pad()
	for _, i := range points {
		d := float64(m.Distance[i])
		if math.IsNaN(d) || h.Deviation == 0 {
			d = 0
		} else {
			d /= h.Deviation
		}
		raw = le.AppendUint16(raw, uint16(int16(math.Round(32767*d))))
	}
	pad()
	for _, i := range points {
		raw = append(raw, byte(m.Class(int(i))))
	}
	pad()
	last := int32(0)
	for _, t := range triangles {
		for _, v := range t {
			raw = le.AppendUint32(raw, uint32(v-last))
			last = v
		}
	}
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	z.Write(raw) // a buffer takes all
	z.Close()
	return b.Bytes()
}

// thin returns the points to show, and the triangles as indices into them: all, or where these
// are too many, one point of each cell of a grid and the triangles between such. The side of
// the cells is mm, 0 for all.
func thin(s *mesh.Scan) (points []int32, triangles [][3]int32, cell float64) {
	limit, n := mostPoints, s.Len()
	if s.IsMesh() {
		limit, n = mostTriangles, len(s.Triangles)
	}
	if n <= limit && s.Len() <= mostPoints {
		points = make([]int32, s.Len())
		for i := range points {
			points[i] = int32(i)
		}
		return points, s.Triangles, 0
	}
	lo, hi := s.Bounds()
	size := hi.Sub(lo)
	// The sides of the box are a first guess of the surface.
	area := 2 * (size.X*size.Y + size.Y*size.Z + size.Z*size.X)
	for cell = math.Sqrt(area / float64(limit)); ; cell *= cellGrowth {
		points, triangles = cluster(s, lo, cell)
		if len(points) <= mostPoints && len(triangles) <= mostTriangles {
			return points, triangles, cell
		}
	}
}

func cluster(s *mesh.Scan, lo r3.Vector, cell float64) (points []int32, triangles [][3]int32) {
	first := map[[3]int32]int32{} // by cell: its index in points
	of := make([]int32, s.Len())
	for i := range of {
		q := s.Point(i).Sub(lo).Mul(1 / cell)
		key := [3]int32{int32(q.X), int32(q.Y), int32(q.Z)}
		k, ok := first[key]
		if !ok {
			k = int32(len(points))
			first[key] = k
			points = append(points, int32(i))
		}
		of[i] = k
	}
	for _, t := range s.Triangles {
		if a, b, c := of[t[0]], of[t[1]], of[t[2]]; a != b && b != c && c != a {
			triangles = append(triangles, [3]int32{a, b, c})
		}
	}
	return points, triangles
}
