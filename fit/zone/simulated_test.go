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
	"spotface/mesh/scansim"
)

// The simulator computes the minimum zone and the least-squares shape of a
// formed face by ways of its own, from other points of it than these. Both lack
// the very extremes, by some percent where the surface is rough.
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
		s, truth, err := scansim.Cloud(t.Context(), c.part, scansim.CloudOptions{
			Seed: 5, Points: 12_000, ShowHidden: true, EdgeMargin: 1e-9, InPlace: true})
		require.NoError(t, err)
		id := c.part.FaceNamed(c.role).ID
		var pts []r3.Vector
		for i, l := range truth.Labels {
			if l == id {
				pts = append(pts, s.Point(i))
			}
		}
		want := c.part.Form(id)
		got, err := zone.To(c.kind, pts, zone.Minimum)
		require.NoError(t, err)
		assert.InEpsilon(t, want.Zone, got.Width, c.close, c.role)
		// n points of correlated heights fix the shape to a tenth of their rms, at the border to two tenths.
		f, err := fit.To(c.kind, pts, fit.Options{})
		require.NoError(t, err)
		sum := 0.0
		for _, q := range pts {
			d := want.Measurand.Signed(q)
			sum += d * d
		}
		rms := math.Sqrt(sum / float64(len(pts)))
		assert.InEpsilon(t, want.RMS, rms, 0.05, c.role)
		for _, q := range pts {
			require.InDelta(t, math.Abs(want.Measurand.Signed(q)), math.Abs(f.Surface().Distance(q)), 0.2*rms, c.role)
		}
	}
}
