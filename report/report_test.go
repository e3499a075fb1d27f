package report_test

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/report"
	"spotface/report/check"
	"spotface/report/internal/testpart"
)

func TestJSONGoldens(t *testing.T) {
	testpart.Golden(t, "measured-one-off.json", jsonOf(t, reportOf(t, testpart.Kettle())), 1e-7)
	testpart.Golden(t, "checked-one-off.json", jsonOf(t, checked(t, testpart.Kettle(), testpart.Plan)), 1e-7)
}

// The names that other programs read. A name that is lost fails here.
func TestJSONNames(t *testing.T) {
	var got map[string]any
	require.NoError(t, json.Unmarshal([]byte(jsonOf(t, checked(t, testpart.Kettle(), testpart.Plan))), &got))
	has := func(v any, path string) any {
		for _, k := range strings.Split(path, ".") {
			if l, ok := v.([]any); ok {
				require.NotEmpty(t, l, path)
				v = l[0]
			}
			m, ok := v.(map[string]any)
			require.True(t, ok, path)
			require.Contains(t, m, k, path)
			v = m[k]
		}
		return v
	}
	for _, path := range strings.Fields(`schema scan.file scan.format scan.unit scan.unit_source scan.file_points scan.points
		scan.spacing scan.noise scan.removed.broken scan.removed.zero_area scan.removed.duplicate scan.removed.rewound scan.warnings
		frame.origin frame.x frame.y frame.z frame.face frame.axis frame.clock
		planes.id planes.point planes.normal planes.rms planes.flatness planes.support planes.uncertainty
		cylinders.id cylinders.side cylinders.point cylinders.axis cylinders.diameter cylinders.length cylinders.arc_deg
		cylinders.rms cylinders.cylindricity cylinders.support cylinders.uncertainty.diameter cones spheres studs
		holes.id holes.kind holes.centre holes.axis holes.diameter holes.face holes.wall holes.from
		holes.uncertainty.centre holes.uncertainty.diameter
		bolt_circles.id bolt_circles.holes bolt_circles.face bolt_circles.centre bolt_circles.axis bolt_circles.pitch_diameter
		bolt_circles.nominal.positions bolt_circles.nominal.spacing_deg bolt_circles.nominal.full_ring bolt_circles.datum_offset_deg
		bolt_circles.clocking.hole bolt_circles.clocking.angle_deg bolt_circles.clocking.nominal_deg
		bolt_circles.clocking.deviation_deg bolt_circles.clocking.uncertainty_deg bolt_circles.clocking.from_others_deg
		bolt_circles.clocking.from_others_uncertainty_deg bolt_circles.clocking.verdict
		bolt_circles.spacing.from bolt_circles.spacing.to bolt_circles.spacing.angle_deg bolt_circles.spacing.nominal_deg
		bolt_circles.spacing.deviation_deg bolt_circles.spacing.uncertainty_deg bolt_circles.spacing.verdict
		bolt_circles.uncertainty.pitch_diameter bolt_circles.uncertainty.centre
		results.feature results.characteristic results.nominal results.measured results.deviation results.lower results.upper
		results.unit results.uncertainty results.coverage_factor results.verdict surface verdict`) {
		has(got, path)
	}
	assert.Equal(t, "spotface-report/1", got["schema"])

	// Without a plan there are no verdicts.
	measured := jsonOf(t, reportOf(t, testpart.Kettle()))
	assert.NotContains(t, measured, "verdict")
	assert.NotContains(t, measured, `"results"`)
}

func TestBuildExpandsUncertainties(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	h := rep.Holes[0]
	assert.InDelta(t, 2*0.004, h.Uncertainty.Diameter, 1e-12)
	assert.InDelta(t, 2.45*0.004, h.Uncertainty.Centre, 1e-5)
	c := rep.Cylinders[0]
	assert.InDelta(t, 2*2*1e-3, c.Uncertainty.Diameter, 1e-12, "diameter: twice the radius, k = 2")
	assert.Equal(t, report.Internal, c.Side)
	assert.InDelta(t, 40.02, c.Diameter, 1e-12)
	assert.InDelta(t, 12, c.Length, 1e-12)
	b := rep.BoltCircles[0]
	// Hole angle about the mean of n: variance (s/R)² (1 - 1/n), centre known to
	// first order since tangential scatter does not move it; k = 2.
	want := 2 * 0.004 / 42 * math.Sqrt(1-1.0/6) * 180 / math.Pi
	assert.InDelta(t, want, b.Clocking[1].UncertaintyDeg, 0.3*want)
	require.NotNil(t, rep.Surface)
	assert.InDelta(t, 40.0/4240, *rep.Surface.Unassigned, 1e-12)
}

func TestBuildLeavesOutWhatIsNotKnown(t *testing.T) {
	s, seg, m := testpart.Kettle().Measure(t)
	m.Holes[1].DiameterU = math.Inf(1)
	rep := built(t, s, seg, m)
	assert.Zero(t, rep.Holes[1].Uncertainty.Diameter)
	require.NotEmpty(t, rep.Scan.Warnings)
	assert.Contains(t, strings.Join(rep.Scan.Warnings, " "), "H2")
	jsonOf(t, rep) // finite all through
}

func TestEmptyScanIsAReport(t *testing.T) {
	rep := built(t, &mesh.Scan{}, &segment.Segmentation{}, &bolt.Measurement{})
	assert.Contains(t, textOf(t, rep), "No holes found")
	out := jsonOf(t, rep)
	for _, list := range []string{"planes", "cylinders", "cones", "spheres", "holes", "studs", "bolt_circles"} {
		assert.Contains(t, out, `"`+list+`": []`)
	}
	assert.Equal(t, 0, report.ExitCode(rep))
}

func TestNumbersThatAreNotFiniteAreRefused(t *testing.T) {
	for path, spoil := range map[string]func(*report.Report){
		"holes[2].diameter":                         func(r *report.Report) { r.Holes[2].Diameter = math.NaN() },
		"bolt_circles[0].clocking[1].deviation_deg": func(r *report.Report) { *r.BoltCircles[0].Clocking[1].DeviationDeg = math.Inf(1) },
		"frame.x[0]":                                func(r *report.Report) { r.Frame.X[0] = math.NaN() },
	} {
		rep := reportOf(t, testpart.Kettle())
		spoil(rep)
		var b bytes.Buffer
		err := report.WriteJSON(&b, rep)
		var nf *report.NotFiniteError
		require.ErrorAs(t, err, &nf)
		assert.Equal(t, path, nf.Path)
		assert.Zero(t, b.Len(), "nothing is written")
		_, err = report.NewView(rep, report.ViewOptions{})
		assert.ErrorAs(t, err, &nf)
	}
}

func TestJSONRoundTrip(t *testing.T) {
	first := jsonOf(t, reportOf(t, testpart.Kettle()))
	rep, err := report.ReadJSON(strings.NewReader(first))
	require.NoError(t, err)
	assert.Equal(t, first, jsonOf(t, rep))
	// A report from a file can be checked like a fresh one.
	assert.Equal(t, jsonOf(t, checked(t, testpart.Kettle(), testpart.Plan)), jsonOf(t, judged(t, rep, testpart.Plan)))

	_, err = report.ReadJSON(strings.NewReader(`{"schema":"spotface-report/9"}`))
	assert.ErrorContains(t, err, "spotface-report/9")
	_, err = report.ReadJSON(strings.NewReader(`{"schema":`))
	assert.ErrorContains(t, err, "not a readable report")
}

func TestInDatumFrame(t *testing.T) {
	rep := reportOf(t, testpart.Kettle())
	in, err := report.InDatumFrame(rep)
	require.NoError(t, err)
	// Hole k sits at 42 (cos, sin) of its angle, on z = 0, looking along +Z.
	for i, a := range testpart.Kettle().Angles {
		sin, cos := math.Sincos(a * math.Pi / 180)
		want := r3.Vector{X: 42 * cos, Y: 42 * sin}
		assert.Less(t, in.Holes[i].Centre.R3().Distance(want), 1e-9)
		assert.Less(t, in.Holes[i].Axis.R3().Distance(r3.Vector{Z: 1}), 1e-12)
	}
	assert.Equal(t, rep.Frame, in.Frame, "the frame itself stays as it lies in the scan")
	assert.True(t, in.InFrame)
	assert.NotEqual(t, rep.Holes[0].Centre, in.Holes[0].Centre, "the report given is not changed")
	assert.Contains(t, textOf(t, rep), "Centres of holes, in the scan's own position")
	assert.Contains(t, flat(textOf(t, in)), "Centres of holes, in the datum frame face x, mm y, mm z, mm +-, mm seen by H1 P1 42.000 0.000 0.000")
	assert.Equal(t, screenOf(t, rep), screenOf(t, in), "the drill table is in the datum frame by itself")
	_, err = check.Check(parse(t, testpart.Plan), in)
	assert.ErrorContains(t, err, "datum frame")
	_, err = check.Check(parse(t, testpart.Plan), judged(t, rep, testpart.Plan))
	assert.ErrorContains(t, err, "judged already")

	rep.Frame = nil
	_, err = report.InDatumFrame(rep)
	assert.ErrorIs(t, err, report.ErrNoFrame)
}
