package fit_test

import (
	"runtime"

	"github.com/golang/geo/r3"

	"spotface/fit"
)

// onCores fits a cylinder with GOMAXPROCS set.
func onCores(n int, pts []r3.Vector) (fit.CylinderFit, error) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(n))
	return fit.CylinderTo(pts, fit.Options{})
}
