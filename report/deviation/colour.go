package deviation

import (
	"fmt"
	"image/color"
	"math"
	"slices"
)

// steps of colour on each side of the grey.
const steps = 5

// Colours: grey within the band, blue below and orange above, darker with distance. Each
// differs from its neighbours by 5 or more in CIEDE2000, also to eyes that lack one kind of
// cone (TestColoursCanBeDistinguished).
var (
	grey    = color.RGBA{0xc8, 0xc8, 0xc8, 0xff}
	nothing = color.RGBA{0xff, 0xff, 0xff, 0xff}
	below   = [steps]color.RGBA{{0x9d, 0xb8, 0xda, 0xff}, {0x6f, 0x97, 0xcc, 0xff}, {0x45, 0x76, 0xb5, 0xff},
		{0x24, 0x56, 0x93, 0xff}, {0x12, 0x3a, 0x6b, 0xff}}
	above = [steps]color.RGBA{{0xe3, 0xb1, 0x84, 0xff}, {0xd0, 0x8e, 0x4b, 0xff}, {0xb0, 0x6a, 0x1e, 0xff},
		{0x8a, 0x4b, 0x0b, 0xff}, {0x5f, 0x31, 0x05, 0xff}}
)

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
func (m *Map) Colour(i int) color.RGBA {
	switch k := m.Class(i); {
	case k > 2*steps:
		return nothing
	case k > steps:
		return above[k-steps-1]
	case k < steps:
		return below[steps-k-1]
	}
	return grey
}

// Entry is a line of the legend.
type Entry struct {
	Colour string `json:"colour"` // #rrggbb
	From   any    `json:"from_mm,omitempty"`
	To     any    `json:"to_mm,omitempty"`
	Words  string `json:"words"`
}

// Legend says what each colour means, from the lowest to the highest.
func (m *Map) Legend() []Entry {
	hex := func(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
	var out []Entry
	for k := range steps {
		lo, hi := m.Limits[k], m.Limits[k+1]
		words := fmt.Sprintf("%.3f to %.3f mm", lo, hi)
		e := Entry{Colour: hex(above[k]), From: lo, To: hi}
		i := Entry{Colour: hex(below[k]), From: -hi, To: -lo}
		if k == steps-1 {
			words = fmt.Sprintf("more than %.3f mm", lo)
			e.To, i.From = nil, nil
		}
		e.Words, i.Words = words+" outside", words+" inside"
		out = append([]Entry{i}, append(out, e)...)
	}
	within := Entry{Colour: hex(grey), From: -m.Band, To: m.Band,
		Words: fmt.Sprintf("within %.3f mm", m.Band)}
	out = slices.Insert(out, steps, within)
	return append(out, Entry{Colour: hex(nothing), Words: "belongs to no surface that was found"})
}
