package forecast

import (
	"context"
	"math"

	"spotface/mesh"
	"spotface/mesh/scansim"
)

// Kind of a simulated scan.
type Kind string

const (
	// Mesh is a triangle mesh as fusing many images makes it: edges rounded,
	// points on a grid.
	Mesh Kind = "mesh"
	// Cloud is a cloud of points strewn evenly at random over what is seen.
	Cloud Kind = "cloud"
)

// scanner makes scans of a part with noise as asked.
type scanner struct {
	part    *scansim.Part
	kind    Kind
	noise   float64 // standard deviation of a point across the surface, mm
	length  float64 // over which the noise's correlation falls to 1/e, mm; 0: independent
	spacing float64 // mm, as mesh.Sampling tells it
	points  int     // of a cloud
}

// newScanner prepares scans. For a cloud it finds how many points give the
// spacing, from a trial with few.
func newScanner(ctx context.Context, part *scansim.Part, kind Kind, noise, length,
	spacing float64) (*scanner, error) {
	s := &scanner{part: part, kind: kind, noise: noise, length: length, spacing: spacing}
	if kind != Cloud {
		return s, nil
	}
	s.points = pilotPoints
	pilot, _, err := s.scan(ctx, 0)
	if err != nil {
		return nil, err
	}
	texture, err := mesh.EstimateSampling(ctx, pilot, nil, 0, 0)
	if err != nil {
		return nil, err
	}
	// The spacing of random points goes with one over the root of their number.
	ratio := texture.Spacing / spacing
	s.points = max(1, int(math.Round(pilotPoints*ratio*ratio)))
	return s, nil
}

// scan simulates the scan of a number. It runs on one processor: trials run side
// by side.
//
// The noise is normal, of the standard deviation asked, all of it shared between
// neighbours with the correlation exp(-(d/length)²) at the distance d.
func (s *scanner) scan(ctx context.Context, seed uint64) (*mesh.Scan, scansim.Truth, error) {
	// scansim's kernel is exp(-d²/(2L²)).
	kernel := s.length / math.Sqrt2
	if s.kind == Cloud {
		return scansim.Cloud(ctx, s.part, scansim.CloudOptions{
			Seed: seed, Points: s.points, Noise: s.noise, NoiseLength: kernel, Jobs: 1})
	}
	voxel := s.spacing / spacingOfVoxel
	if kernel == 0 {
		kernel = voxel / 1000 // no two points share anything
	}
	return scansim.Fused(ctx, s.part, scansim.FusedOptions{
		Seed: seed, Voxel: voxel, Noise: s.noise, Jobs: 1,
		NoiseLength: [3]float64{kernel, kernel, kernel}, NoiseShare: [3]float64{1, 0, 0}})
}
