package report_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/internal/testpart"
)

func viewOf(t testing.TB, rep *report.Report, opt report.ViewOptions) *report.View {
	t.Helper()
	v, err := report.NewView(rep, opt)
	require.NoError(t, err)
	return v
}

// Holes that lie in and out of their circle by turns are off by millimetres, not by angles.
func TestRadialScatterIsSaidRadial(t *testing.T) {
	p := testpart.Kettle()
	p.Angles = []float64{0, 60, 120, 180, 240, 300}
	p.Radial = []float64{0.072, -0.05, 0.06, -0.07, 0.055, -0.067}
	text := flat(screenOf(t, reportOf(t, p)))
	assert.Contains(t, text, "THEY SCATTER: the whole pattern is out, not one bad hole: up to 0.066 mm in or out (H6).",
		"-0.067 less the circle's own shift toward H6, (2/6) sum r cos = 0.0087 and 0.0063 mm")
	assert.NotContains(t, text, "degrees round")

	p.Radial = nil
	p.Angles = []float64{0.1, 59.85, 120.12, 179.9, 240.17, 299.88}
	text = flat(screenOf(t, reportOf(t, p)))
	assert.Contains(t, text, "degrees round the circle (H5).", "and angles by angles")
}

// A hub that was chosen for the frame's axis is no bore.
func TestAnAxisOfAHub(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	rep.Cylinder(rep.Frame.Axis).Side = report.External
	title := viewOf(t, rep, report.ViewOptions{}).Drill[0].Title
	assert.Equal(t, "Drill table: from the centre of "+rep.Frame.Axis+", X through H1", title)
}

// A pitch diameter that reads the same without the holes that are off is said once.
func TestOnePitchDiameterIsSaidOnce(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	c := &rep.BoltCircles[0]
	c.Uncertainty.PitchDiameter, c.PitchDiameterOnPattern = 1e-6, c.PitchDiameter+1e-5
	text := flat(screenOf(t, rep))
	assert.Contains(t, text, "ONE IS OFF")
	assert.NotContains(t, text, "through those on pattern")
}

// Every hole has X and Y in the datum frame: 42 mm at its angle. The uncertainty is at least the
// centre's own, and grows with the frame's.
func TestHolesHaveXAndY(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	v := viewOf(t, rep, report.ViewOptions{})
	require.Len(t, v.Drill, 1)
	for i, it := range v.Drill[0].Items {
		sin, cos := math.Sincos(testpart.Kettle().Angles[i] * math.Pi / 180)
		assert.InDelta(t, 42*cos, it.X.Value, 5.1e-4, it.ID)
		assert.InDelta(t, 42*sin, it.Y.Value, 5.1e-4, it.ID)
		assert.GreaterOrEqual(t, it.X.U, 2*0.004)
		assert.Equal(t, rep.Holes[i].XY[0], 0+rep.Frame.Point(rep.Holes[i].Centre)[0])
	}
	near := rep.Holes[0].Uncertainty.XY
	rep.Bore = &report.Hole{ID: rep.Frame.Axis, Uncertainty: report.Uncertainty{Centre: 1}}
	rep.PlaceHoles()
	assert.Greater(t, rep.Holes[3].Uncertainty.XY, 0.8, "an origin known to 1 mm")
	assert.Greater(t, rep.Holes[3].Uncertainty.XY, near)

	// A hole of another direction has none.
	rep.Holes[1].Axis = report.Vec{1, 0, 0}
	rep.PlaceHoles()
	assert.Nil(t, rep.Holes[1].XY)
}

// The uncertainty of X and Y, against draws of independent errors: 20,000, so that a
// standard deviation is known to 0.5 %; one coordinate alone is smaller than stated.
func TestUncertaintyOfXAndY(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	rep.Bore = &report.Hole{ID: rep.Frame.Axis, Uncertainty: report.Uncertainty{Centre: 0.03 * report.CoverageCentre}}
	rep.PlaceHoles()
	rng := rand.New(rand.NewPCG(7, 0))
	for i := range rep.Holes {
		h := &rep.Holes[i]
		s, c := h.Uncertainty.Centre/report.CoverageCentre, rep.Holes[0].Uncertainty.Centre/report.CoverageCentre
		var xx, yy float64
		const n = 20_000
		for range n {
			ox, oy := 0.03*rng.NormFloat64(), 0.03*rng.NormFloat64()
			kx, ky := 42+c*rng.NormFloat64()-ox, c*rng.NormFloat64()-oy
			hx, hy := h.XY[0]+s*rng.NormFloat64()-ox, h.XY[1]+s*rng.NormFloat64()-oy
			if i == 0 {
				hx, hy = kx, ky
			}
			turn := math.Atan2(ky, kx)
			sin, cos := math.Sincos(-turn)
			xx += math.Pow(hx*cos-hy*sin-h.XY[0], 2)
			yy += math.Pow(hx*sin+hy*cos-h.XY[1], 2)
		}
		assert.InEpsilon(t, report.Coverage*math.Sqrt(max(xx, yy)/n), h.Uncertainty.XY, 0.03, h.ID)
	}
}

// What a filter left out was not looked for.
func TestAFilterIsNoFinding(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	rep.BoltCircles, rep.Holes, rep.Only = nil, nil, []string{"C1"}
	text := screenOf(t, rep)
	assert.Contains(t, text, "Only C1 asked for; the rest of the scan is not shown.")
	assert.Contains(t, text, "Bore 40.020 +-0.004 mm\n")
	assert.NotContains(t, text, "No holes found")
	assert.NotContains(t, text, "face flat")

	rep = reportOf(t, testpart.Kettle())
	rep.BoltCircles, rep.Holes, rep.Only = nil, rep.Holes[3:4], []string{"H4"}
	text = screenOf(t, rep)
	assert.Contains(t, text, "Only H4 asked for")
	assert.NotContains(t, text, "no three alike")
}

// Words of the shop for what is round: seen from the datum axis, by the share of it that is there.
func TestRoundSurfacesAreNamed(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	z, o := rep.Frame.Z, rep.Frame.Origin
	at := func(x, y float64) report.Vec {
		return report.NewVec(o.R3().Add(rep.Frame.X.R3().Mul(x)).Add(rep.Frame.Y.R3().Mul(y)))
	}
	add := func(id string, side report.Side, d, arc float64, point report.Vec) {
		rep.Cylinders = append(rep.Cylinders, report.Cylinder{ID: id, Side: side, Point: point, Axis: z, Diameter: d, ArcDeg: arc,
			Length: 5, Support: 5000, Uncertainty: report.Uncertainty{Diameter: 0.01}})
	}
	add("C20", report.External, 108, 360, at(0, 0))
	add("C21", report.External, 54, 350, at(0.1, 0))
	add("C22", report.External, 12, 360, at(30, 10))
	add("C23", report.External, 6, 90, at(50, 0))
	add("C24", report.Internal, 6, 80, at(50, 0))
	add("C25", report.Internal, 9, 200, at(0, 54))
	for i := range 24 {
		add(fmt.Sprintf("C%d", 30+i), report.Internal, 6.35, 244, at(54*math.Cos(float64(i)), 54*math.Sin(float64(i))))
	}
	add("C60", report.Internal, 16, 360, at(10, -30))
	cone := func(id string, side report.Side, half, length float64, apex report.Vec) {
		rep.Cones = append(rep.Cones, report.Cone{ID: id, Side: side, Apex: apex, Axis: z, HalfAngleDeg: half, Length: length, Support: 5000,
			Uncertainty: report.Uncertainty{HalfAngleDeg: 0.1}})
	}
	cone("K1", report.External, 45, 2, at(0, 0))
	cone("K2", report.Internal, 45, 1.5, rep.Holes[2].Centre)
	cone("K3", report.External, 20, 200, at(0, 0))
	what := map[string]string{}
	like := 0
	for _, it := range viewOf(t, rep, report.ViewOptions{}).Surfaces {
		what[it.ID] = it.What
		if it.ID == "C30" {
			like = len(it.Like)
		}
	}
	for id, want := range map[string]string{"C1": "main bore", "C20": "outside diameter", "C21": "hub", "C22": "boss",
		"C23": "rounded edge", "C24": "rounded corner", "C25": "notch, or a bore seen in part", "C30": "notch", "C60": "bore",
		"K1": "chamfer", "K2": "countersink", "K3": "cone", "P1": "mounting face"} {
		assert.Equal(t, want, what[id], id)
	}
	assert.Equal(t, 23, like, "alike ones are listed once")
	text := flat(textOf(t, rep))
	assert.Contains(t, text, "K2 countersink of H3")
	assert.Contains(t, text, "24 notches of 6.350 mm")
	assert.Contains(t, text, "outside diameter 108.000 +-0.010 mm")
	assert.Contains(t, text, "chamfer 2.00 mm x 45 degrees")

	// A stud is headed as one.
	rep.Studs = []report.Hole{{ID: "D1", Kind: "round", Diameter: 12, Centre: at(30, 10), Axis: z, Wall: "C22"}}
	rep.PlaceHoles()
	text = flat(textOf(t, rep))
	assert.Contains(t, text, "Studs stud X, mm Y, mm diameter, mm D1 30.00 10.00 12.00")
	assert.NotContains(t, text, "boss")

	// Where the outside was not scanned, what the holes lie around is a hub.
	rep.Cylinders = slices.DeleteFunc(rep.Cylinders, func(c report.Cylinder) bool { return c.ID == "C20" })
	assert.NotContains(t, flat(textOf(t, rep)), "outside diameter")
}

// A report from a file may lack anything.
func TestViewOfADamagedReport(t *testing.T) {
	whole := reportOf(t, testpart.Kettle())
	for name, damage := range map[string]func(*report.Report){
		"no clocking":  func(r *report.Report) { r.BoltCircles[0].Clocking = nil },
		"no holes":     func(r *report.Report) { r.Holes = nil },
		"no surfaces":  func(r *report.Report) { r.Planes, r.Cylinders = nil, nil },
		"no frame":     func(r *report.Report) { r.Frame = nil },
		"nothing":      func(r *report.Report) { *r = report.Report{} },
		"a zero frame": func(r *report.Report) { r.Frame = &report.Frame{}; r.PlaceHoles() },
	} {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			require.NoError(t, report.WriteJSON(&b, whole))
			rep, err := report.ReadJSON(&b)
			require.NoError(t, err)
			damage(rep)
			assert.NotEmpty(t, screenOf(t, rep))
			assert.NotEmpty(t, textOf(t, rep))
			csvOf(t, []*report.Report{rep}, report.ViewOptions{})
		})
	}
}

// A bore that only its rim shows is among the holes, and is called the bore.
func TestABoreByItsRim(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	rim := report.Hole{ID: "H7", Kind: "round", Diameter: 58.93, Face: "P1", From: "rim", Axis: rep.Frame.Z,
		Centre: rep.Frame.Origin, Uncertainty: report.Uncertainty{Diameter: 0.08, Centre: 0.01}}
	rep.Cylinders, rep.Frame.Axis = rep.Cylinders[1:], "H7"
	rep.Holes, rep.Bore = append(rep.Holes, rim), &rim
	text := textOf(t, rep)
	assert.Contains(t, strings.ToLower(text), "bore 58.930 +-0.080 mm")
	assert.Contains(t, text, "from the centre of bore H7, X through H1")
	assert.NotContains(t, text, "Other holes")
	assert.NotContains(t, text, "cone")
}

// With several circles the headline speaks of each.
func TestEveryCircleIsSaid(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	second := rep.BoltCircles[0]
	second.ID, second.PitchDiameter = "B2", 60
	second.Standouts = &report.Standouts{Holes: []report.Standout{}}
	rep.BoltCircles = append(rep.BoltCircles, second)
	text := flat(screenOf(t, rep))
	assert.Contains(t, text, "B1: 6 holes, 60 degrees apart, on a bolt circle of 84.000 +-0.007 mm. ONE IS OFF: H3")
	assert.Contains(t, text, "B2: 6 holes, 60 degrees apart, on a bolt circle of 60.000 +-0.007 mm: all on pattern")
	assert.Contains(t, text, "Drill table of B1")
	assert.Contains(t, text, "6 holes of B2 (--full)", "what does not fit is named")
	assert.Contains(t, textOf(t, rep), "Drill table of B2")
}

// However much there is to say, the first screen is one.
func TestFirstScreenFits(t *testing.T) {
	p := testpart.Kettle()
	p.Angles, p.ExtraD = nil, 12.3
	for i := range 24 {
		p.Angles = append(p.Angles, 15*float64(i))
		p.Extra = append(p.Extra, r3.Vector{X: 20 + float64(i), Y: 3})
	}
	p.Angles[17] = 255.4
	for name, plan := range map[string]string{"measured": "", "checked": strings.Replace(strings.Replace(testpart.Plan, "count: 6", "count: 24", 1), "nominal: 60", "nominal: 15", 1)} {
		t.Run(name, func(t *testing.T) {
			rep := reportOf(t, p)
			if plan != "" {
				rep = judged(t, rep, plan)
			}
			rep.Scan.UnitSource = "assumed"
			for i := range 4 {
				rep.Scan.Warnings = append(rep.Scan.Warnings, fmt.Sprintf("Warning number %d. %s", i, strings.Repeat("This takes a while to say. ", 6)))
			}
			screen := screenOf(t, rep)
			assert.LessOrEqual(t, strings.Count(screen, "\n"), report.ScreenLines, screen)
			assert.Contains(t, screen, "ASSUMED")
			assert.Contains(t, screen, "H18  ", "the hole that is off is among the rows")
			assert.Contains(t, screen, "more: --full")
			assert.Contains(t, screen, "Warning number 0")
			assert.NotContains(t, screen, "Warning number 1")
			assert.Contains(t, textOf(t, rep), "Warning number 3")
		})
	}
}

func csvOf(t testing.TB, reps []*report.Report, opt report.ViewOptions) [][]string {
	t.Helper()
	var views []*report.View
	for _, rep := range reps {
		views = append(views, viewOf(t, rep, opt))
	}
	var b bytes.Buffer
	require.NoError(t, report.WriteCSV(&b, views...))
	rows, err := csv.NewReader(&b).ReadAll() // the same number of cells in every row, or an error
	require.NoError(t, err)
	return rows
}

func TestCSV(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	rows := csvOf(t, []*report.Report{rep}, report.ViewOptions{})
	head := map[string]int{}
	for i, h := range rows[0] {
		head[h] = i
	}
	require.Len(t, rows, 1+6+2, "six holes, the bore and the face")
	h3 := rows[3]
	// 42 mm at 120.4 degrees.
	for column, want := range map[string]string{"file": "kettle-port.xyz", "id": "H3", "what": "hole", "of": "B1", "x_mm": "-21.253",
		"y_mm": "36.226", "angle_deg": "120.400", "off_deg": "0.40", "out_mm": "0.000", "diameter_mm": "6.610", "plus_minus_diameter_mm": "0.0080"} {
		require.Contains(t, head, column)
		assert.Equal(t, want, h3[head[column]], column)
	}

	inches := csvOf(t, []*report.Report{rep}, report.ViewOptions{Inches: true})
	assert.Contains(t, inches[0], "x_in")
	assert.Equal(t, "-0.8367", inches[3][head["x_mm"]], "-21.2532 / 25.4")
	assert.Equal(t, "120.400", inches[3][head["angle_deg"]])

	// A check is one table of characteristics, of all parts.
	a, b := checked(t, testpart.Kettle(), testpart.Plan), checked(t, testpart.Kettle(), testpart.Plan)
	rows = csvOf(t, []*report.Report{a, b}, report.ViewOptions{})
	require.Len(t, rows, 1+2*len(a.Results))
	assert.Equal(t, []string{"kettle-port.xyz", "B1/H3", "", "clocking", "deg", "120", "120.333", "+0.333", "0.012", "-0.25", "0.25", "nonconforming"}, rows[1+3])
}

// In inches every length is one, and no angle.
func TestInchesInText(t *testing.T) {
	rep := checked(t, testpart.Kettle(), testpart.Plan)
	text := said(t, report.TextOptions{Full: true}, report.ViewOptions{Inches: true}, rep)
	for _, want := range []string{"on a bolt circle of 3.3071 +-0.0003 in", // 84 / 25.4
		"0.0115 in along the circle",   // 0.2932 / 25.4
		"-0.8367", "1.4262", "120.400", // -21.253, 36.226
		"Bore 1.5756 +-0.0002 in",         // 40.02
		"B1        pitch diameter    in ", // judged
		"+-0.25)", "0.40 degrees"} {
		assert.Contains(t, text, want)
	}
	assert.Equal(t, 1, strings.Count(text, " mm"), "the scan's own unit")

	// 84 / 25.4; a source stays in its own unit.
	budget := report.Budgets(rep, report.ViewOptions{Inches: true})[0]
	assert.Equal(t, "Uncertainty of pitch diameter B1: 3.3071 +-0.0003 in (k = 2)", budget.Title)
	assert.Equal(t, "u in", budget.Table.Head[7])
	assert.Equal(t, []string{"scan noise", "mm", "0.0394"}, []string{budget.Table.Rows[0][0], budget.Table.Rows[0][2], budget.Table.Rows[0][6]}, "sensitivity: 1 / 25.4")
}

// Several parts: a line each, a table of characteristics by testpart.Part, then the details.
func TestSeveralParts(t *testing.T) {
	good := testpart.Kettle()
	good.Angles[2] = 120
	a, b := checked(t, good, testpart.Plan), checked(t, testpart.Kettle(), testpart.Plan)
	a.Scan.File, b.Scan.File = "print-1.stl", "print-2.stl"
	text := said(t, report.TextOptions{}, report.ViewOptions{}, a, b)
	lines := strings.Split(text, "\n")
	assert.Equal(t, "part verdict", flat(lines[0]))
	assert.Equal(t, "1 print-1.stl conforming", flat(lines[1]))
	assert.Equal(t, "2 print-2.stl nonconforming B1/H3 clocking +0.333 +-0.012 degrees from 120", flat(lines[2]))
	assert.Contains(t, flat(text), "off by, and verdict unit part 1 part 2 B1 pitch diameter mm 0.000 0.000 B1/H1 clocking deg 0.000 -0.067")
	assert.Contains(t, flat(text), "B1/H3 clocking deg 0.000 +0.333 !")
	assert.NotContains(t, text, "*\n", "nothing says how they differ")

	// Of one part scanned twice: +0.333 and -0.067 degrees of H3, each +-0.012, and what that
	// drags along; the pitch diameter is the same.
	text = said(t, report.TextOptions{}, report.ViewOptions{}, a, b.Since(a))
	assert.Contains(t, flat(text), "B1/H3 clocking deg 0.000 +0.333 !*")
	assert.Contains(t, flat(text), "B1 pitch diameter mm 0.000 0.000 B1/H1")
	assert.Contains(t, flat(text), "(k = 2; one in twenty does by chance): part 2 from part 1 in B1/H1 clocking (-0.067 +-0.017 deg)")
	assert.Nil(t, b.Results[0].Change, "the report itself is not changed")
	assert.Contains(t, text, "print-2.stl    unit: mm (given)\n\nNONCONFORMING (plan: kettle port ring): 3 of 21")
}

// A scan shows more of a chamfer than there is, since both its edges are round: 1.07 mm at
// 45 degrees between a face and a side of 108 mm, seen over 1.8 mm, and a hub beside it.
func TestChamferOfAScan(t *testing.T) {
	down := report.Vec{0, 0, -1}
	rep := &report.Report{
		Planes: []report.Plane{{ID: "P1", Normal: report.Vec{0, 0, 1}, Support: 5000}},
		Cylinders: []report.Cylinder{
			{ID: "C1", Side: report.External, Point: report.Vec{0, 0, 5}, Axis: report.Vec{0, 0, 1}, Diameter: 54, Length: 5, ArcDeg: 360, Support: 5000},
			{ID: "C2", Side: report.External, Point: report.Vec{0, 0, -5}, Axis: report.Vec{0, 0, 1}, Diameter: 108, Length: 8, ArcDeg: 360, Support: 5000}},
		Cones: []report.Cone{{ID: "K1", Side: report.External, Apex: report.Vec{0, 0, 54 - 1.07}, Axis: down, Point: report.Vec{0, 0, -0.3},
			HalfAngleDeg: 45, Length: 1.8, Support: 5000}},
	}
	assert.Contains(t, flat(textOf(t, rep)), "chamfer 1.07 mm x 45 degrees")
	rep.Planes = nil
	assert.Contains(t, flat(textOf(t, rep)), "chamfer 1.80 mm x 45 degrees", "as it is seen")
}
