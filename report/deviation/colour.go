package deviation

import (
	"fmt"
	"image/color"
	"math"
)

// steps of colour on each side of the grey.
const steps = 5

// palette: blue below the band, darker with distance, grey within it, orange above, and white
// for points of no surface. Each colour differs from its neighbours by 5 or more in CIEDE2000,
// also to eyes that lack one kind of cone (TestColoursCanBeDistinguished).
var palette = [2*steps + 2]color.RGBA{
	{0x12, 0x3a, 0x6b, 0xff}, {0x24, 0x56, 0x93, 0xff}, {0x45, 0x76, 0xb5, 0xff},
	{0x6f, 0x97, 0xcc, 0xff}, {0x9d, 0xb8, 0xda, 0xff},
	{0xc8, 0xc8, 0xc8, 0xff},
	{0xe3, 0xb1, 0x84, 0xff}, {0xd0, 0x8e, 0x4b, 0xff}, {0xb0, 0x6a, 0x1e, 0xff},
	{0x8a, 0x4b, 0x0b, 0xff}, {0x5f, 0x31, 0x05, 0xff},
	{0xff, 0xff, 0xff, 0xff},
}

// Class of a point of the scan: the entry of Legend that it belongs to.
func (m *Map) Class(i int) int { return m.ClassOf(float64(m.Distance[i])) }

// ClassOf is the entry of Legend that a deviation, mm, belongs to; of NaN the last.
func (m *Map) ClassOf(d float64) int {
	if math.IsNaN(d) {
		return 2*steps + 1
	}
	k := 0
	for k < steps && math.Abs(d) > m.Limits[k] {
		k++
	}
	if d < 0 {
		k = -k
	}
	return steps + k
}

// Colour of a point of the scan.
func (m *Map) Colour(i int) color.RGBA { return palette[m.Class(i)] }

// Entry is a line of the legend.
type Entry struct {
	Colour string `json:"colour"` // #rrggbb
	From   any    `json:"from_mm,omitempty"`
	To     any    `json:"to_mm,omitempty"`
	Words  string `json:"words"`
}

// Legend says what each colour means, from the lowest to the highest.
func (m *Map) Legend() []Entry {
	out := make([]Entry, len(palette))
	for k, c := range palette {
		out[k].Colour = fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
	}
	for k := range steps {
		lo, hi := m.Limits[k], m.Limits[k+1]
		words, below, above := fmt.Sprintf("%.3f to %.3f mm", lo, hi), &out[steps-1-k], &out[steps+1+k]
		below.From, below.To, above.From, above.To = -hi, -lo, lo, hi
		if k == steps-1 {
			words, below.From, above.To = fmt.Sprintf("more than %.3f mm", lo), nil, nil
		}
		below.Words, above.Words = words+" inside", words+" outside"
	}
	within := &out[steps]
	within.From, within.To, within.Words = -m.Band, m.Band, fmt.Sprintf("within %.3f mm", m.Band)
	out[2*steps+1].Words = "belongs to no surface that was found"
	return out
}
