package plan

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/golang/geo/r1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/budget"
)

const fullPlan = `part: kettle port ring
unit: mm                 # of the numbers in this plan; the scan's own is --unit or scan_unit
frame:   {face: P1, axis: C1, clock: H1}
scanner: {noise: 0.03, length: {a: 0.02, b: 0.00004}, coating: {thickness: 0.008, u: 0.004}}
bolt_circles:
  - id: B1
    count: 6               # or angles: [0, 60, 120]
    spacing: {nominal: 60, band: [-0.25, 0.25]}     # degrees, hole to hole
    pitch_diameter: {nominal: 84, band: [-0.2, 0.2]}
    hole_diameter:  {nominal: 6.6, band: [0, 0.25]}
    clocking:       {band: [-0.25, 0.25]}           # degrees, each hole
    position:       {diameter: 0.3}                 # true position, optional
holes:     [{id: X1, at: [43.9, -4.6], diameter: {nominal: 12, band: [-0.1, 0.2]}}]
planes:    [{id: P1, flatness: 0.3}]
cylinders: [{id: C1, side: internal, diameter: {nominal: 40, band: [-0.1, 0.1]}, perpendicular_to: P1, perpendicularity: 0.1}]
`

func parse(t testing.TB, yaml string) *Plan {
	t.Helper()
	p, err := Parse("port.yaml", []byte(yaml))
	require.NoError(t, err)
	return p
}

func TestPlanSaysAllThatItCan(t *testing.T) {
	p := parse(t, fullPlan)
	assert.Equal(t, "kettle port ring", p.Part)
	assert.Equal(t, Frame{"P1", "C1", "H1"}, p.Frame)
	assert.Equal(t, Scanner{Noise: 0.03, Length: LengthError{A: 0.02, B: 4e-5, Distribution: budget.Normal},
		Coating: Coating{Thickness: 0.008, StandardU: budget.Standard{U: 0.004, Distribution: budget.Normal}}}, p.Scanner)
	require.Len(t, p.BoltCircles, 1)
	c := p.BoltCircles[0]
	assert.Equal(t, []float64{0, 60, 120, 180, 240, 300}, c.Angles)
	assert.Equal(t, r1.Interval{Lo: -0.25, Hi: 0.25}, *c.SpacingBand)
	assert.Equal(t, r1.Interval{Lo: -0.25, Hi: 0.25}, *c.ClockingBand)
	assert.Equal(t, 84.0, c.PitchDiameter.Nominal)
	assert.Equal(t, r1.Interval{Lo: 0, Hi: 0.25}, *c.HoleDiameter.Band)
	assert.Equal(t, Zone{Diameter: 0.3}, c.Position)
	assert.Equal(t, []float64{43.9, -4.6}, p.Holes[0].At)
	assert.Equal(t, 0.3, p.Planes[0].Flatness)
	assert.Equal(t, report.Internal, p.Cylinders[0].Side)
	assert.Equal(t, "P1", p.Cylinders[0].PerpendicularTo)
}

// The inch is 25.4 mm exactly; angles and the share b of a length do not scale.
func TestPlanInInches(t *testing.T) {
	p := parse(t, `
bolt_circles: [{id: B1, count: 4, pitch_diameter: {nominal: 3.5, band: [-0.01, 0.01]}, clocking: {band: [-0.5, 0.5]}}]
scanner: {length: {a: 0.001, b: 0.00004}}
scan_unit: mm
unit: in
surface: {band: [-0.005, 0.01]}
`)
	require.NotNil(t, p.Surface.Band)
	assert.InDelta(t, -0.127, p.Surface.Band.Lo, 1e-12)
	assert.InDelta(t, 0.254, p.Surface.Band.Hi, 1e-12)
	assert.InDelta(t, 88.9, p.BoltCircles[0].PitchDiameter.Nominal, 1e-12)
	assert.InDelta(t, 0.254, p.BoltCircles[0].PitchDiameter.Band.Hi, 1e-12)
	assert.Equal(t, r1.Interval{Lo: -0.5, Hi: 0.5}, *p.BoltCircles[0].ClockingBand)
	assert.InDelta(t, 0.0254, p.Scanner.Length.A, 1e-15)
	assert.Equal(t, 4e-5, p.Scanner.Length.B)
	assert.EqualValues(t, "mm", p.ScanUnit)
}

func TestPlanAngles(t *testing.T) {
	circle := func(keys string) Circle {
		return parse(t, "bolt_circles: [{id: B1, "+keys+"}]").BoltCircles[0]
	}
	assert.Equal(t, []float64{0, 60, 120}, circle("count: 3, spacing: {nominal: 60}").Angles)
	assert.Equal(t, []float64{0, 58, 120, 181.5}, circle("angles: [0, 58, 120, 181.5]").Angles)
	seven := circle("count: 7, spacing: {nominal: 51.428571}").Angles
	assert.InDelta(t, 6*360.0/7, seven[6], 1e-12, "a seventh is meant")
	assert.Equal(t, []float64{0, 120, 240}, circle("count: 3").Angles)
	band := circle("count: 3, pitch_diameter: {nominal: 80, band: [-.inf, 0.1]}").PitchDiameter.Band
	assert.True(t, math.IsInf(band.Lo, -1))
}

func TestPlanErrors(t *testing.T) {
	b1 := "bolt_circles:\n  - id: B1\n    count: 6\n"
	for _, row := range []struct {
		name, yaml   string
		line, column int
		message      string
	}{
		{"typo in a key", b1 + "    pich_diameter: {nominal: 84}\n", 4, 5, `unknown key "pich_diameter" in bolt_circles: did you mean "pitch_diameter"?`},
		{"typo at the top", "boltcircles: []\n", 1, 1, `did you mean "bolt_circles"?`},
		{"swapped letters", b1 + "    clokcing: {band: [0, 1]}\n", 4, 5, `did you mean "clocking"?`},
		{"foreign key", b1 + "    colour: red\n", 4, 5, `unknown key "colour" in bolt_circles: it takes id, count`},
		{"key twice", b1 + "    count: 5\n", 4, 5, "count"},
		{"band upside down", b1 + "    clocking: {band: [0.3, -0.3]}\n", 4, 22, "lower limit 0.3 above its upper limit -0.3: swap them"},
		{"band of limits", b1 + "    pitch_diameter: {nominal: 84, band: [83.8, 84.3]}\n", 4, 41, "give what is allowed above and below it, [-0.200, +0.300]"},
		{"band of one", b1 + "    clocking: {band: [0.3]}\n", 4, 22, "has 1 number, need two"},
		{"band that is a number", b1 + "    clocking: {band: 0.3}\n", 4, 22, "is the number 0.3: write +-0.3 for [-0.3, 0.3]"},
		{"band without a limit", b1 + "    clocking: {band: [-.inf, .inf]}\n", 4, 22, "no limit on either side"},
		{"not a number in a band", b1 + "    clocking: {band: [.nan, 1]}\n", 4, 23, "finite"},
		{"decimal comma", b1 + "    pitch_diameter: {nominal: \"84,5\"}\n", 4, 31, "write a decimal point"},
		{"unit in a number", b1 + "    pitch_diameter: {nominal: 84 mm}\n", 4, 31, "need the bare number 84"},
		{"text for a number", b1 + "    pitch_diameter: {nominal: large}\n", 4, 31, `is the text "large", need a number`},
		{"hexadecimal", b1 + "    pitch_diameter: {nominal: 0x54}\n", 4, 31, "plain decimal number"},
		{"negative size", b1 + "    pitch_diameter: {nominal: -84}\n", 4, 31, "need more than zero"},
		{"size without nominal", b1 + "    pitch_diameter: {band: [-1, 1]}\n", 4, 21, "has no nominal"},
		{"size that is a number", b1 + "    pitch_diameter: 84\n", 4, 21, `need keys with values, as in "nominal: 1"`},
		{"unknown unit", "unit: furlong\n" + b1, 1, 7, "need one of mm, cm, m, in, ft"},
		{"axis of no feature", "frame: {axis: C9}\n" + b1, 1, 15, "no cylinder, bolt circle or hole of this plan"},
		{"unknown scan unit", "scan_unit: px\n" + b1, 1, 12, "need one of mm, cm, m, in, ft"},
		{"count of two", "bolt_circles: [{id: B1, count: 2}]\n", 1, 32, "whole number from 3"},
		{"count of six and a half", "bolt_circles: [{id: B1, count: 6.5}]\n", 1, 32, "whole number"},
		{"neither count nor angles", "bolt_circles: [{id: B1}]\n", 1, 16, "neither count nor angles"},
		{"count against angles", "bolt_circles: [{id: B1, count: 4, angles: [0, 1, 2]}]\n", 1, 32, "count 4 but 3 angles"},
		{"too far apart", "bolt_circles: [{id: B1, count: 7, spacing: {nominal: 60}}]\n", 1, 54, "more than a whole turn"},
		{"angles and spacing", "bolt_circles: [{id: B1, angles: [0, 60, 120], spacing: {nominal: 60}}]\n", 1, 66, "leave the nominal spacing out"},
		{"angles out of order", "bolt_circles: [{id: B1, angles: [0, 120, 60]}]\n", 1, 33, "angle 60 after 120"},
		{"angles not from zero", "bolt_circles: [{id: B1, angles: [10, 70, 130]}]\n", 1, 33, "need 0"},
		{"surface beside zero", "surface: {band: [0.1, 0.2]}\n" + b1, 1, 17, "a limit on each side of zero, as in [-0.2, 0.2]"},
		{"surface without a limit", "surface: {band: [-.inf, 0.2]}\n" + b1, 1, 17, "a limit on each side of zero"},
		{"surface upside down", "surface: {band: [0.3, -0.3]}\n" + b1, 1, 17, "swap them"},
		{"no id", "holes: [{diameter: {nominal: 3}}]\n", 1, 9, "has no id"},
		{"id twice", b1 + "planes: [{id: B1, flatness: 1}]\n", 4, 15, "given twice"},
		{"id with a slash", "planes: [{id: B1/H1, flatness: 1}]\n", 1, 15, "without spaces or slashes"},
		{"side", "cylinders: [{id: C1, side: inside, diameter: {nominal: 4}}]\n", 1, 28, "internal (a bore) or external"},
		{"datum that is not there", "cylinders: [{id: C1, diameter: {nominal: 4}, perpendicular_to: P7}]\n", 1, 64, "no plane of this plan"},
		{"place of one number", "holes: [{id: X1, at: [3]}]\n", 1, 22, "at has 1 number, need 2"},
		{"position without place", "holes: [{id: X1, diameter: {nominal: 3}, position: {diameter: 0.1}}]\n", 1, 9, "no at"},
		{"list that is none", "holes: {id: X1}\n", 1, 8, "need a list"},
		{"decision", "decision: lenient\n" + b1, 1, 11, "need one of guarded, simple-acceptance, guarded-rejection"},
		{"anchor", "part: &a kettle\n" + b1, 1, 7, "anchor or alias"},
		{"a fraction of millimetres", b1 + "    pitch_diameter: {nominal: 2 63/64}\n", 4, 31, "a fraction is a size in inches, and the plan's unit is mm"},
		{"a fraction of degrees", b1 + "    spacing: {nominal: 1/2}\n", 4, 24, "only a length may be a fraction"},
		{"decimal comma without quotes", b1 + "    pitch_diameter: {nominal: 76,0}\n", 4, 31, "pitch_diameter nominal is 76,0: write a decimal point, not a comma: 76.0"},
		{"decimal commas in a band", b1 + "    clocking: {band: [-0,1, 0,1]}\n", 4, 22, "decimals take a point"},
		{"inch", "unit: inch\n" + b1, 1, 7, `unit is "inch": write in`},
		{"inches by their mark", "unit: '\"'\n" + b1, 1, 7, `unit is "\"": write in`},
		{"capitals", "scan_unit: IN\n" + b1, 1, 12, `scan_unit is "IN": write in`},
		{"clock of no hole", "frame: {clock: H9}\n" + b1, 1, 16, "the frame's clock is H9, which is no hole of this plan: circle B1 has H1 to H6"},
		{"clock of another circle", "frame: {clock: B2/1}\n" + b1, 1, 16, "no hole of this plan"},
		{"face of no plane", "frame: {face: P9}\n" + b1 + "planes: [{id: P1, flatness: 0.1}]\n", 1, 15, "no plane of this plan"},
		{"a key without value", b1 + "    pitch_diameter:\n", 4, 0, "is empty"},
		{"another material", b1 + "    position: {diameter: 0.3, material: lmc}\n", 4, 41, "need mmc"},
		{"bonus of nothing", b1 + "    position: {diameter: 0.3, material: mmc}\n", 4, 41, "add a band with a lower limit"},
		{"a wider refinement", b1 + "    position: {diameter: 0.3, within: 0.4}\n", 4, 39, "more than the position diameter 0.3"},
		{"broken YAML", "bolt_circles: [{id: B1\n", 1, 0, "not readable as YAML"},
		{"tab for indentation", "bolt_circles:\n\t- id: B1\n", 2, 1, "YAML takes spaces alone"},
		{"two documents", b1 + "---\n" + b1, 5, 0, "a second document"},
		{"a list at the top", "- 1\n", 1, 0, "the plan is a list"},
		{"nothing", "# only a comment\n", 0, 0, "empty"},
		{"no feature", "part: x\n", 0, 0, "names no feature"},
		{"brackets without end", "part: " + strings.Repeat("[", 1000), 1, 27, "levels of brackets"},
		{"dashes without end", strings.Repeat("- ", 1000), 1, 0, "levels of brackets"},
		{"a line without end", "part: " + strings.Repeat("x", 5000), 1, 4098, "longer than 4096"},
		{"a scan", "solid\x00\x01", 0, 0, "not a text file"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := Parse("port.yaml", []byte(row.yaml))
			var pe *Error
			require.ErrorAs(t, err, &pe)
			assert.Contains(t, pe.Error(), row.message)
			assert.NotContains(t, pe.Error(), "\n", "one line")
			assert.True(t, strings.HasPrefix(pe.Error(), "port.yaml: "), pe.Error())
			assert.Equal(t, row.line, pe.Line, pe.Error())
			if row.column > 0 {
				assert.Equal(t, row.column, pe.Column, pe.Error())
			}
		})
	}
}

func TestReadPlanFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "port.yaml")
	require.NoError(t, os.WriteFile(path, []byte(fullPlan), 0o644))
	p, err := Read(path)
	require.NoError(t, err)
	assert.Equal(t, "port.yaml", p.File)

	_, err = Read(filepath.Join(t.TempDir(), "none.yaml"))
	assert.True(t, errors.Is(err, os.ErrNotExist))

	require.NoError(t, os.WriteFile(path, make([]byte, maxPlan+10), 0o644))
	_, err = Read(path)
	assert.ErrorContains(t, err, "larger than")
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(fullPlan))
	f.Add([]byte("bolt_circles: [{id: B1, angles: [0, 1e308, .inf]}]"))
	f.Add([]byte("a: &x [*x, *x]\n<<: *x"))
	f.Add([]byte("? [a]\n: {b: !!float 3}"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Parse("fuzz.yaml", data)
		if err != nil {
			var pe *Error
			if !errors.As(err, &pe) || strings.Contains(pe.Error(), "\n") {
				t.Fatalf("not a one-line plan error: %q", err)
			}
			return
		}
		for _, c := range p.BoltCircles {
			if len(c.Angles) < 3 {
				t.Fatalf("circle %s has %d angles", c.ID, len(c.Angles))
			}
		}
	})
}

func TestPatternOfAPlan(t *testing.T) {
	p, err := parse(t, fullPlan).Pattern("port.yaml")
	require.NoError(t, err)
	assert.Equal(t, "B1/H6", p.IDs[5])
	_, err = (&Plan{}).Pattern("empty.yaml")
	assert.ErrorContains(t, err, "empty.yaml: no bolt circle")
}

// A size may be a fraction of an inch, and a band one number either way.
func TestFractionsAndEvenBands(t *testing.T) {
	p := parse(t, `
unit: in
bolt_circles:
  - {id: B1, count: 4, pitch_diameter: {nominal: 2 63/64, band: +-0.1}, hole_diameter: {nominal: 17/64}, clocking: {band: +-0.25}}`)
	c := p.BoltCircles[0]
	assert.InDelta(t, (2+63.0/64)*25.4, c.PitchDiameter.Nominal, 1e-12)
	assert.InDelta(t, 17.0/64*25.4, c.HoleDiameter.Nominal, 1e-12)
	assert.InDelta(t, 2.54, c.PitchDiameter.Band.Hi, 1e-12)
	assert.Equal(t, PlusMinus(0.25), c.ClockingBand)
}

// A plan built in Go is refused for what a file is refused for, with the place in the plan.
func TestValidate(t *testing.T) {
	good := func() *Plan {
		return &Plan{BoltCircles: []Circle{{ID: "B1", Angles: Ring(6), ClockingBand: PlusMinus(0.25),
			PitchDiameter: &Size{Nominal: 84, Band: Limits(-0.2, math.Inf(1))}}}}
	}
	require.NoError(t, good().Validate())
	assert.ErrorContains(t, (*Plan)(nil).Validate(), "nil")
	for message, spoil := range map[string]func(p *Plan){
		"plan: bolt_circles[0].clocking.band: the band of clocking has its lower limit 0.3 above": func(p *Plan) { p.BoltCircles[0].ClockingBand = Limits(0.3, -0.3) },
		"pitch_diameter nominal is NaN": func(p *Plan) { p.BoltCircles[0].PitchDiameter.Nominal = math.NaN() },
		"a limit that is no number":     func(p *Plan) { p.BoltCircles[0].ClockingBand = PlusMinus(math.NaN()) },
		"decision is \"lenient\"":       func(p *Plan) { p.Decision = "lenient" },
		"unit is \"furlong\"":           func(p *Plan) { p.Unit = "furlong" },
		"the id B1 is given twice":      func(p *Plan) { p.BoltCircles = append(p.BoltCircles, p.BoltCircles[0]) },
		"has no id":                     func(p *Plan) { p.BoltCircles[0].ID = "" },
		"angle 60 after 120":            func(p *Plan) { p.BoltCircles[0].Angles = []float64{0, 120, 60} },
		"names no feature":              func(p *Plan) { p.BoltCircles = nil },
		"the frame's clock is H7":       func(p *Plan) { p.Frame.Clock = "H7" },
		"scanner noise is -1":           func(p *Plan) { p.Scanner.Noise = -1 },
		"diameter of C3: no such feature": func(p *Plan) {
			p.Scanner.ReferenceLengths = []ReferenceLength{{Of: report.Diameter, Features: []string{"C3"}}}
		},
		"temperature part is 400":                      func(p *Plan) { p.Scanner.Temperature = &Temperature{Part: 400} },
		"position diameter is -0.1, need zero or more": func(p *Plan) { p.BoltCircles[0].Position.Diameter = -0.1 },
	} {
		p := good()
		spoil(p)
		var pe *Error
		require.ErrorAs(t, p.Validate(), &pe, message)
		assert.Contains(t, pe.Error(), message)
	}
}

// Every key is listed with its meaning, and its example is taken.
func TestKeys(t *testing.T) {
	paths := make(map[string]Key)
	for _, k := range Keys() {
		paths[k.Path] = k
		assert.NotEmpty(t, k.Says, k.Path)
	}
	assert.Equal(t, "deg", paths["bolt_circles[].spacing.band"].Unit)
	assert.Equal(t, "84", paths["bolt_circles[].pitch_diameter.nominal"].Example)
	assert.Contains(t, paths, "scanner.coating.half_width")
	assert.Contains(t, paths, "scanner.reference_lengths[].set_scale")
	for line := range strings.Lines(keysText) {
		end, _, _ := strings.Cut(line, " | ")
		used := slices.ContainsFunc(Keys(), func(k Key) bool {
			return k.Path == end || strings.HasSuffix(k.Path, "."+end)
		})
		assert.True(t, used, "keys.txt has a line for no key: %s", line)
	}
}

// The plan's fastener is the pattern's.
func TestFastenerOfAPlan(t *testing.T) {
	p, err := Parse("inch.yaml", []byte("unit: in\nbolt_circles: [{id: B1, count: 4, "+
		"pitch_diameter: {nominal: 3}, hole_diameter: {nominal: 0.28}, fastener: {diameter: 1/4}}]\n"))
	require.NoError(t, err)
	pattern, err := p.Pattern("inch.yaml")
	require.NoError(t, err)
	assert.InDelta(t, 6.35, pattern.Fastener, 1e-9)
	_, err = Parse("zero.yaml", []byte("bolt_circles: [{id: B1, count: 4, fastener: {diameter: -6}}]\n"))
	assert.ErrorContains(t, err, "fastener")
}
