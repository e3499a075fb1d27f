package deviation

import (
	"encoding/binary"
	"encoding/json"
	"io"
	"math"

	"spotface/mesh"
	"spotface/mesh/scanio"
	"spotface/report"
)

// WriteGLB writes the scan with its colours as glTF 2.0, binary (ISO/IEC 12113): in metres,
// as the standard asks, with Y up, colours in linear light, and the legend under extras.
func (m *Map) WriteGLB(w io.Writer, s *mesh.Scan, tool string) error {
	le := binary.LittleEndian
	n := s.Len()
	bin := make([]byte, 0, n*(12+8)+12*len(s.Triangles))
	lo, hi := [3]float32{}, [3]float32{}
	for i := range n {
		p := s.Point(i)
		// Y is up in glTF: the part's Z. That is a turn about X.
		for k, v := range [3]float32{float32(p.X / 1000), float32(p.Z / 1000), float32(-p.Y / 1000)} {
			if i == 0 {
				lo[k], hi[k] = v, v
			}
			lo[k], hi[k] = min(lo[k], v), max(hi[k], v)
			bin = le.AppendUint32(bin, math.Float32bits(v))
		}
	}
	colours := len(bin)
	for i := range n {
		c := m.Colour(i)
		for _, v := range [4]uint8{c.R, c.G, c.B, 0xff} {
			bin = le.AppendUint16(bin, linear(v))
		}
	}
	indices := len(bin)
	for _, t := range s.Triangles {
		for _, v := range t {
			bin = le.AppendUint32(bin, uint32(v))
		}
	}

	type dict = map[string]any
	accessors := []dict{
		{"bufferView": 0, "componentType": 5126, "count": n, "type": "VEC3", "min": lo, "max": hi},
		{"bufferView": 1, "componentType": 5123, "normalized": true, "count": n, "type": "VEC4"},
	}
	views := []dict{
		{"buffer": 0, "byteOffset": 0, "byteLength": colours, "target": 34962},
		{"buffer": 0, "byteOffset": colours, "byteLength": indices - colours, "target": 34962},
	}
	primitive := dict{"attributes": dict{"POSITION": 0, "COLOR_0": 1}, "mode": 0, "material": 0}
	if s.IsMesh() {
		primitive["mode"], primitive["indices"] = 4, 2
		accessors = append(accessors, dict{"bufferView": 2, "componentType": 5125,
			"count": 3 * len(s.Triangles), "type": "SCALAR"})
		views = append(views, dict{"buffer": 0, "byteOffset": indices,
			"byteLength": len(bin) - indices, "target": 34963})
	}
	doc, err := json.Marshal(dict{
		"asset":  dict{"version": "2.0", "generator": tool},
		"scene":  0,
		"scenes": []dict{{"nodes": []int{0}}},
		"nodes":  []dict{{"mesh": 0, "name": "deviation"}},
		"meshes": []dict{{"primitives": []dict{primitive}, "extras": dict{"legend": m.Legend(report.ViewOptions{})}}},
		"materials": []dict{{"doubleSided": true,
			"pbrMetallicRoughness": dict{"metallicFactor": 0, "roughnessFactor": 1}}},
		"accessors":   accessors,
		"bufferViews": views,
		"buffers":     []dict{{"byteLength": len(bin)}},
	})
	if err != nil {
		return err
	}
	for len(doc)%4 != 0 {
		doc = append(doc, ' ')
	}
	for len(bin)%4 != 0 {
		bin = append(bin, 0)
	}
	// Clause 4.4: the header, then each chunk with its length and type.
	head := le.AppendUint32([]byte("glTF"), 2)
	head = le.AppendUint32(head, uint32(12+8+len(doc)+8+len(bin)))
	for _, part := range [][]byte{head, le.AppendUint32(nil, uint32(len(doc))), []byte("JSON"), doc,
		le.AppendUint32(nil, uint32(len(bin))), []byte("BIN\x00"), bin} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}

// linear is an sRGB value in linear light (IEC 61966-2-1).
func linear(v uint8) uint16 {
	c := float64(v) / 255
	if c <= 0.04045 {
		c /= 12.92
	} else {
		c = math.Pow((c+0.055)/1.055, 2.4)
	}
	return uint16(math.Round(c * 65535))
}

// WritePLY writes the scan as binary PLY with a colour and the deviation, mm, of each point;
// modelled is 0 where a point belongs to no surface, and its deviation then is 0.
func (m *Map) WritePLY(w io.Writer, s *mesh.Scan) error {
	return scanio.WritePLY(w, s, scanio.Property{
		Declare: "property uchar red\nproperty uchar green\nproperty uchar blue\n" +
			"property float deviation\nproperty uchar modelled\n",
		Append: func(row []byte, i int) []byte {
			c, d, modelled := m.Colour(i), m.Distance[i], byte(1)
			if math.IsNaN(float64(d)) {
				d, modelled = 0, 0
			}
			row = binary.LittleEndian.AppendUint32(append(row, c.R, c.G, c.B), math.Float32bits(d))
			return append(row, modelled)
		},
	})
}
