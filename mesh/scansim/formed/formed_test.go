package formed

import (
	"math"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
	"spotface/fit/zone"
	"spotface/mesh/scansim"
)

// The zones of forms that are known by hand, on a disc of 80 mm and its wall.
func TestFormsByHand(t *testing.T) {
	disc := scansim.Flange(scansim.FlangeSpec{Diameter: 80, Thickness: 12, Holes: -1})
	depth := 1.75 * math.Sqrt(3) / 2 * 5 / 8 // ISO 68-1: 5/8 of H = P sqrt(3)/2
	for name, c := range map[string]struct {
		form       scansim.Form
		role       string
		zone, less float64 // the points miss the very rim, by up to less
	}{
		"saddle":                 {saddle(0.2, 40, 1), "mounting", 0.4, 0.004},
		"worn edge":              {curl(-0.2, 30, 40, 0), "mounting", 0.2, 0.002},
		"thread":                 {thread(1.75, r3.Vector{}), "outer", depth, 0.01},
		"stitched, no height":    {stitch(r3.Vector{X: 0.1}, r3.Vector{}, r3.Vector{X: 1}, 4), "mounting", 0, 1e-12},
		"printed, nothing leans": {layers(1, 0.2, r3.Vector{Z: 1}), "mounting", 0, 1e-12},
	} {
		p := scansim.WithForm(disc, c.form, c.role)
		kind := map[scansim.Shape]fit.Kind{scansim.Plane: fit.KindPlane, scansim.Cylinder: fit.KindCylinder}[p.FaceNamed(c.role).Shape]
		_, got, err := zone.To(kind, p.Points(p.FaceNamed(c.role).ID, 20_000), zone.Minimum)
		require.NoError(t, err, name)
		assert.InDelta(t, c.zone-c.less/2, got.Width, c.less/2+1e-9, name)
	}
}
