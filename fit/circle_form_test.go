package fit_test

import (
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit"
)

// A figure in a plane has the same form error whether it is fitted there or in
// space: residuals inside the circle are negative.
// Points: Coope, J. Optim. Theory Appl. 76 (1993) 381-388.
func TestFormErrorOfACircleInSpaceIsThatInItsPlane(t *testing.T) {
	xy := load(t, "circle-coope-1993-8pt").points()
	flat, err := fit.Circle2DTo(xy, fit.Options{})
	require.NoError(t, err)
	pts := make([]r3.Vector, len(xy))
	for i, p := range xy { // laid into a plane that leans
		pts[i] = r3.Vector{X: p.X * 0.8, Y: p.Y, Z: 3 + p.X*0.6}
	}
	space, err := fit.CircleTo(pts, fit.Options{})
	require.NoError(t, err)
	assert.InDelta(t, flat.Residuals.FormError, space.Residuals.FormError, 1e-12)
	assert.InDelta(t, flat.Residuals.Min, space.Residuals.Min, 1e-12)
	assert.InDelta(t, flat.Residuals.RMS, space.Residuals.RMS, 1e-12)
}
