package deviation

import (
	"encoding/binary"
	"io"
	"math"

	"spotface/mesh"
	"spotface/mesh/scanio"
)

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
