package deviation

import (
	"cmp"
	"context"
	"fmt"
	"image/color"
	"math"
	"slices"

	"github.com/golang/geo/r1"
	"gonum.org/v1/gonum/stat"

	"spotface/fit"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/parallel"
	"spotface/report"
	"spotface/report/wording"
)

// Options says what is within bounds.
type Options struct {
	// Band is the deviations, mm, that are drawn grey. Nil is within twice the scan's noise.
	Band *r1.Interval
	// Jobs is the number of processors; zero is all. It does not change the result.
	Jobs int
}

// Map is the deviation of every point.
type Map struct {
	// Distance, mm, by point of the scan; NaN where a point belongs to no surface.
	Distance []float32
	Modelled int         // points that belong to a surface
	Band     r1.Interval // mm, of the grey
	Step     float64     // mm, of each further colour
	Within   float64     // share of the modelled points within the band
	RMS      float64     // mm
	// Percentiles of the size of the deviation, mm: 50, 95 and 99 %.
	P50, P95, P99 float64
	Worst         []Place // the largest deviation of each of the worst surfaces

	ofNoise bool // the band is a multiple of the scan's noise
}

// Place is what a surface deviates by most, mm.
type Place struct {
	Surface   string
	Deviation float64
}

// Of returns the deviations of a scan from its surfaces. The only error is that of ctx.
func Of(ctx context.Context, s *mesh.Scan, seg *segment.Segmentation, opt Options) (*Map, error) {
	m := &Map{Distance: make([]float32, s.Len()), ofNoise: opt.Band == nil}
	if half := noiseFactor * seg.Noise; m.ofNoise {
		m.Band = r1.Interval{Lo: -half, Hi: half}
	} else {
		m.Band = *opt.Band
	}
	none := float32(math.NaN())
	// The shapes without what a fit knows of them, which is slow to hand on for each point.
	shapes := make([]fit.Shape, len(seg.Surfaces))
	sign := make([]float64, len(shapes))
	for k := range shapes {
		shapes[k], sign[k] = seg.Surfaces[k].Fit.Surface(), 1
		if seg.Surfaces[k].Internal {
			sign[k] = -1
		}
	}
	// What a chunk of the points adds up to; largest is by surface what deviates most.
	type part struct {
		modelled, within int
		squares          float64
		largest          []float32
	}
	parts := make([]part, (s.Len()+chunk-1)/chunk)
	err := parallel.Chunks(ctx, opt.Jobs, s.Len(), chunk, func(lo, hi int) {
		out, band := m.Distance[lo:hi], m.Band
		largest := slices.Repeat([]float32{none}, len(shapes))
		modelled, within, squares := 0, 0, 0.0
		for i, k := range seg.PointSurface[lo:hi] {
			if k < 0 {
				out[i] = none
				continue
			}
			exact := sign[k] * shapes[k].Distance(s.Point(lo+i))
			d := float32(exact)
			out[i] = d
			modelled++
			squares += exact * exact
			if band.Contains(float64(d)) {
				within++
			}
			largest[k] = larger(largest[k], d)
		}
		parts[lo/chunk] = part{modelled, within, squares, largest}
	})
	if err != nil {
		return nil, err
	}
	all := part{largest: slices.Repeat([]float32{none}, len(shapes))}
	for _, q := range parts {
		all.modelled += q.modelled
		all.within += q.within
		all.squares += q.squares
		for k, d := range q.largest {
			if d == d {
				all.largest[k] = larger(all.largest[k], d)
			}
		}
	}
	if m.Modelled = all.modelled; m.Modelled > 0 {
		m.RMS = math.Sqrt(all.squares / float64(m.Modelled))
		m.Within = float64(all.within) / float64(m.Modelled)
	}
	for k, d := range all.largest {
		if d == d {
			m.Worst = append(m.Worst, Place{seg.Surfaces[k].ID, float64(d)})
		}
	}
	slices.SortStableFunc(m.Worst, func(a, b Place) int {
		return cmp.Compare(math.Abs(b.Deviation), math.Abs(a.Deviation))
	})
	m.Worst = m.Worst[:min(worst, len(m.Worst))]
	m.percentiles()
	return m, nil
}

// larger is the deviation of larger size, of equal ones the first; NaN is none.
func larger(a, b float32) float32 {
	if math.Abs(float64(b)) <= math.Abs(float64(a)) {
		return a
	}
	return b
}

// Words say how far the surface leaves its ideal shapes, in a sentence.
func (m *Map) Words(how report.ViewOptions) string {
	if m.Modelled == 0 {
		return "no point belongs to a surface that was found"
	}
	unit, mm, n := how.Lengths()
	length := func(v float64) string { return wording.Fixed(v/mm, n) + " " + unit }
	s := fmt.Sprintf("%.1f %% of the points belong to a surface; of these half lie within %s "+
		"of it, 95 %% within %s, 99 %% within %s; most off is %s, by %s %s",
		100*float64(m.Modelled)/float64(len(m.Distance)), length(m.P50), length(m.P95), length(m.P99),
		m.Worst[0].Surface, wording.Signed(m.Worst[0].Deviation/mm, n), unit)
	if !m.ofNoise {
		s += fmt.Sprintf("; %.1f %% lie within the band, %s", 100*m.Within, m.band(how))
	}
	return s
}

// Fill says in a report what the deviations are.
func (m *Map) Fill(rep *report.Report) {
	surface := report.Surface{}
	if rep.Surface != nil {
		surface = *rep.Surface
	}
	if m.Modelled > 0 {
		surface.WithinBand, surface.RMS = &m.Within, &m.RMS
		if surface.Band = m.Band.Hi; !m.ofNoise {
			surface.Band, surface.Lower, surface.Upper = 0, &m.Band.Lo, &m.Band.Hi
		}
		surface.Percentiles = map[string]float64{"50": m.P50, "95": m.P95, "99": m.P99}
	}
	rep.Surface = &surface
}

func (m *Map) size(i int) float64 { return math.Abs(float64(m.Distance[i])) }

// band is its limits in words.
func (m *Map) band(how report.ViewOptions) string {
	unit, mm, n := how.Lengths()
	return wording.Signed(m.Band.Lo/mm, n) + " to " + wording.Signed(m.Band.Hi/mm, n) + " " + unit
}

// Outer is the size of the deviations, mm, beyond which there is no further colour.
func (m *Map) Outer() float64 { return max(-m.Band.Lo, m.Band.Hi) + steps*m.Step }

// percentiles fills them, and the step of the colours, from a regular sample.
func (m *Map) percentiles() {
	var sizes []float64
	for i := 0; i < len(m.Distance); i += 1 + len(m.Distance)/sampled {
		if d := m.size(i); !math.IsNaN(d) {
			sizes = append(sizes, d)
		}
	}
	outer := 0.0
	if len(sizes) > 0 {
		slices.Sort(sizes)
		at := func(p float64) float64 { return stat.Quantile(p, stat.Empirical, sizes, nil) }
		m.P50, m.P95, m.P99, outer = at(0.5), at(0.95), at(0.99), at(outerShare)
	}
	half := max(-m.Band.Lo, m.Band.Hi)
	m.Step = max(outer-half, half) / steps
}

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
	for k < steps && (d > m.Band.Hi+float64(k)*m.Step || d < m.Band.Lo-float64(k)*m.Step) {
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
func (m *Map) Legend(how report.ViewOptions) []Entry {
	unit, mm, n := how.Lengths()
	length := func(v float64) string { return wording.Fixed(v/mm, n) }
	out := make([]Entry, len(palette))
	for k, c := range palette {
		out[k].Colour = fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
	}
	for k := range steps {
		words := func(from float64, side string) (lo, hi float64, words string) {
			lo = from + float64(k)*m.Step
			hi = lo + m.Step
			if k == steps-1 {
				return lo, hi, "more than " + length(lo) + " " + unit + side
			}
			return lo, hi, length(lo) + " to " + length(hi) + " " + unit + side
		}
		below, above := &out[steps-1-k], &out[steps+1+k]
		var lo, hi float64
		lo, hi, below.Words = words(-m.Band.Lo, " inside")
		below.From, below.To = -hi, -lo
		lo, hi, above.Words = words(m.Band.Hi, " outside")
		above.From, above.To = lo, hi
	}
	out[0].From, out[2*steps].To = nil, nil
	within := &out[steps]
	within.From, within.To = m.Band.Lo, m.Band.Hi
	within.Words = "within the band, " + m.band(how)
	if m.ofNoise {
		within.Words = fmt.Sprintf("within %s %s, %d times the scan's noise", length(m.Band.Hi), unit,
			noiseFactor)
	}
	out[2*steps+1].Words = "belongs to no surface that was found"
	return out
}
