package zone_test

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/golang/geo/s1"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/fit/zone"
	"spotface/mesh"
	"spotface/mesh/scansim"
)

// The zones of forms that are known by hand, on a disc of 80 mm and its wall. Points miss
// the very rim, by up to less.
func TestZoneOfFormsByHand(t *testing.T) {
	disc := scansim.Flange(scansim.FlangeSpec{Diameter: 80, Thickness: 12, Holes: -1})
	bumps := scansim.Dents(scansim.Dent{Centre: r3.Vector{X: 20}, Radius: 6, Depth: 0.3, Rim: 0.1},
		scansim.Dent{Centre: r3.Vector{Y: -30}, Radius: 4, Depth: 0.2})
	ramp := scansim.Form{Kind: "ramp", Max: 0.4, Slope: 0.01, Height: func(p, _ r3.Vector) float64 { return 0.1 + p.X*0.003 - p.Y*0.004 }}
	for name, c := range map[string]struct {
		part       *scansim.Part
		role       string
		kind       fit.Kind
		zone, less float64
	}{
		"ideal but for nothing": {scansim.WithForm(disc, scansim.Dents(), "mounting"), "mounting", fit.KindPlane, 0, 1e-9},
		"oval":                  {scansim.WithForm(disc, scansim.Lobes(2, 0.1, r3.Vector{}, 1), "outer"), "outer", fit.KindCylinder, 0.2, 0.001},
		"three lobes":           {scansim.WithForm(disc, scansim.Lobes(3, 0.07, r3.Vector{}, 1), "outer"), "outer", fit.KindCylinder, 0.14, 0.001},
		"five lobes":            {scansim.WithForm(disc, scansim.Lobes(5, 0.07, r3.Vector{}, 1), "outer"), "outer", fit.KindCylinder, 0.14, 0.001},
		"bow":                   {scansim.WithForm(disc, scansim.Bow(0.3, 40, 1), "mounting"), "mounting", fit.KindPlane, 0.3, 0.003},
		"one dent":              {scansim.WithForm(disc, scansim.Dents(scansim.Dent{Centre: r3.Vector{X: 20}, Radius: 5, Depth: 0.3}), "mounting"), "mounting", fit.KindPlane, 0.3, 0.01},
		// No tilt makes a hollow with a rim flatter; a ramp is a turn and no form.
		"dents":           {scansim.WithForm(disc, bumps, "mounting"), "mounting", fit.KindPlane, 0.4, 0.02},
		"dents on a ramp": {scansim.WithForm(scansim.WithForm(disc, bumps, "mounting"), ramp, "mounting"), "mounting", fit.KindPlane, 0.4, 0.02},
	} {
		_, got, err := zone.To(c.kind, c.part.Points(c.part.FaceNamed(c.role).ID, 8000), zone.Minimum)
		require.NoError(t, err, name)
		assert.InDelta(t, c.zone-c.less/2, got.Width, c.less/2+1e-9, name)
	}
}

// The zone of a cloud's points is that of other points of the same formed face, and the
// fits to both agree. Both lack the very extremes, by some percent where the surface is
// rough.
func TestZoneOfSimulatedForm(t *testing.T) {
	p := scansim.Flange(scansim.FlangeSpec{Diameter: 70, Thickness: 15, Bore: 40, Holes: -1, HubDiameter: 50, HubHeight: 15,
		Draft: 3 * s1.Degree})
	p = scansim.WithForm(p, scansim.Bow(0.2, 35, 1), "mounting")
	p = scansim.WithForm(p, scansim.Dents(scansim.Dent{Centre: r3.Vector{X: 30}, Radius: 6, Depth: 0.3, Rim: 0.1}), "mounting")
	p = scansim.WithForm(p, scansim.Texture(2, 0.2, 2, 5), "outer", "hub_top")
	p = scansim.WithForm(p, scansim.Lobes(3, 0.1, r3.Vector{}, 0), "bore")
	round := scansim.Flange(scansim.FlangeSpec{Diameter: 70, Thickness: 20, Bore: 40, Holes: -1})
	round = scansim.WithForm(round, scansim.Texture(3, 0.1, 2, 8), "bore")
	round = scansim.WithForm(round, scansim.Lobes(2, 0.15, r3.Vector{}, 0), "bore")
	type seen struct {
		scan  *mesh.Scan
		truth scansim.Truth
	}
	scans := map[*scansim.Part]seen{}
	for _, part := range []*scansim.Part{p, round} {
		s, truth, err := scansim.Cloud(t.Context(), part, scansim.CloudOptions{
			Seed: 5, Points: 40_000, ShowHidden: true, EdgeMargin: 1e-9, InPlace: true})
		require.NoError(t, err)
		scans[part] = seen{s, truth}
	}
	for _, c := range []struct {
		part  *scansim.Part
		role  string
		kind  fit.Kind
		close float64 // relative
	}{
		{p, "mounting", fit.KindPlane, 0.03},
		{p, "hub_top", fit.KindPlane, 0.05},
		{p, "outer", fit.KindCone, 0.05},
		{p, "bore", fit.KindCone, 0.01},
		{round, "bore", fit.KindCylinder, 0.03},
	} {
		id := c.part.FaceNamed(c.role).ID
		var pts []r3.Vector
		for i, l := range scans[c.part].truth.Labels {
			if l == id {
				pts = append(pts, scans[c.part].scan.Point(i))
			}
		}
		exact := c.part.Points(id, 8000)
		_, want, err := zone.To(c.kind, exact, zone.Minimum)
		require.NoError(t, err)
		measurand, err := fit.To(c.kind, exact, fit.Options{})
		require.NoError(t, err)
		_, got, err := zone.To(c.kind, pts, zone.Minimum)
		require.NoError(t, err)
		assert.InEpsilon(t, want.Width, got.Width, c.close, c.role)
		// 1,300 points of the smallest face fix its height to 3 % of their rms, and at the
		// border to 6 %: three times that.
		f, err := fit.To(c.kind, pts, fit.Options{})
		require.NoError(t, err)
		sum := 0.0
		for _, q := range pts {
			d := measurand.Distance(q)
			sum += d * d
		}
		rms := math.Sqrt(sum / float64(len(pts)))
		assert.InEpsilon(t, measurand.Statistics().RMS, rms, 0.05, c.role)
		for _, q := range pts {
			require.InDelta(t, math.Abs(measurand.Distance(q)), math.Abs(f.Surface().Distance(q)), 0.2*rms, c.role)
		}
	}
}
