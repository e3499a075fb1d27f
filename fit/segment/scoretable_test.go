package segment_test

import (
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
)

// scoreScan is a way in which a part is scanned.
type scoreScan struct {
	name   string
	smooth float64 // width that it is smoothed by, mm
	scan   func(t *testing.T, p *scansim.Part) (*mesh.Scan, scansim.Truth, error)
}

// Places in scoreScans.
const (
	fusedScan = iota
	cloudScan
	exactScan
)

// scoreScans are the ways in which each part is scanned: a fused mesh with
// rounded edges and correlated noise; a cloud with independent noise and
// outliers, without normals; a sparse exact one, as clouds made from CAD
// models are.
var scoreScans = []scoreScan{
	{"fused", 0.5, func(t *testing.T, p *scansim.Part) (*mesh.Scan, scansim.Truth, error) {
		return damagedScan(t, p, scansim.FusedOptions{Seed: 11, Voxel: 0.5, Noise: 0.02, ShowHidden: true,
			Missing: 0.02, Junk: 3}, 0.01, 0.002)
	}},
	{"cloud", 0, func(t *testing.T, p *scansim.Part) (*mesh.Scan, scansim.Truth, error) {
		return scansim.Cloud(t.Context(), p, scansim.CloudOptions{Seed: 12, Points: 60_000, Noise: 0.03, Tangential: 0.02,
			Outliers: 0.05, ShowHidden: true})
	}},
	{"exact", 0, func(t *testing.T, p *scansim.Part) (*mesh.Scan, scansim.Truth, error) {
		opt := scansim.CloudOptions{Seed: 13, Points: 16_000, ShowHidden: true, EdgeMargin: 1e-9}
		if p.Name == "sheet" {
			opt.Points = 40_000 // else its two sides are as near as neighbours
		}
		return scansim.Cloud(t.Context(), p, opt)
	}},
}

// damagedScan simulates a fused mesh of p and does to it what careless software does:
// the share doubled of the triangles comes a second time, at the end, and the share
// rewound has the wrong side out.
func damagedScan(t *testing.T, p *scansim.Part, opt scansim.FusedOptions,
	doubled, rewound float64) (*mesh.Scan, scansim.Truth, error) {
	s, tr, err := scansim.Fused(t.Context(), p, opt)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(opt.Seed, 7))
	for i, c := range s.Triangles {
		if rng.Float64() < doubled {
			s.Triangles, tr.Labels = append(s.Triangles, c), append(tr.Labels, tr.Labels[i])
		}
		if rng.Float64() < rewound {
			s.Triangles[i] = [3]int32{c[0], c[2], c[1]}
		}
	}
	s.Source.Triangles = len(s.Triangles)
	return s, tr, nil
}

// tally adds up the scores of scans.
type tally struct {
	scans, faces, found, wrong int
	accuracy, dice             float64 // sums
	// errors are those of parameters in standard uncertainties, by scan and parameter.
	errors map[string][]float64
	// white are their sizes on clouds, whose noise is independent, as the covariance
	// assumes.
	white []float64
}

// add simulates a part's scan, segments and scores it. With -v it prints the score.
func (y *tally) add(t *testing.T, p *scansim.Part, sc scoreScan) {
	s, tr, err := sc.scan(t, p)
	require.NoError(t, err)
	if s.Normals == nil {
		s, err = mesh.EstimateNormals(t.Context(), s, nil, 0)
		require.NoError(t, err)
	}
	seg, err := segment.Segment(t.Context(), s, segment.Options{})
	require.NoError(t, err)
	r := scoreOf(s, &tr, seg, sc.smooth)
	t.Logf("%d points, noise %.4f, spacing %.3f: accuracy %.4f, Dice %.3f (worst %.3f), %d of %d faces",
		s.Len(), seg.Noise, seg.Spacing, r.accuracy, r.dice, r.worst, r.found, r.faces)
	for _, m := range r.missing {
		t.Logf("  missing %s", m)
	}
	for _, m := range r.wrong {
		t.Logf("  %s", m)
	}
	assert.Greater(t, r.accuracy, 0.87)
	y.scans++
	y.faces += r.faces
	y.found += r.found
	y.wrong += len(r.wrong)
	y.accuracy += r.accuracy
	y.dice += r.dice
	if y.errors == nil {
		y.errors = map[string][]float64{}
	}
	for _, e := range r.errors {
		what := sc.name + ", " + e.kind
		y.errors[what] = append(y.errors[what], e.z)
		if sc.name != "cloud" {
			continue
		}
		if math.Abs(e.z) > 5 {
			t.Logf("  %s off by %.4f, %.1f times its uncertainty", e.what, e.mm, e.z)
		}
		y.white = append(y.white, math.Abs(e.z))
	}
}

// check prints the means and holds them to the bounds given and to those that do not
// depend on what scans there are.
func (y *tally) check(t *testing.T, accuracy, dice float64) {
	if y.scans == 0 {
		return // a single scan was asked for by -run
	}
	n := float64(y.scans)
	over := 0
	for _, z := range y.white {
		if z > 4 {
			over++
		}
	}
	t.Logf("%d scans: accuracy %.4f, Dice %.3f, %d of %d faces, %d regions that are none, "+
		"%d of %d parameters off by more than 4 uncertainties",
		y.scans, y.accuracy/n, y.dice/n, y.found, y.faces, y.wrong, over, len(y.white))
	for _, what := range slices.Sorted(maps.Keys(y.errors)) {
		in, square := 0, 0.0
		for _, z := range y.errors[what] {
			square += z * z
			if math.Abs(z) <= 2 {
				in++
			}
		}
		m := float64(len(y.errors[what]))
		t.Logf("%s: %.0f, rms of error over uncertainty %.2f, %.0f %% within two",
			what, m, math.Sqrt(square/m), 100*float64(in)/m)
	}
	assert.Greater(t, y.accuracy/n, accuracy)
	assert.Greater(t, y.dice/n, dice)
	assert.GreaterOrEqual(t, float64(y.found), 0.98*float64(y.faces))
	assert.LessOrEqual(t, 3*y.wrong, y.scans)
	assert.LessOrEqual(t, float64(over), 0.1*float64(len(y.white)))
}

// TestScore scores a few scans of parts of different kinds with one setting; with -short
// the cloud alone. All parts in all scans are TestStudyScore.
func TestScore(t *testing.T) {
	var y tally
	for _, row := range []struct {
		part *scansim.Part
		scan int
	}{
		{scoreSector(), fusedScan}, {scoreTurned(), cloudScan}, {scoreShaft(), exactScan},
	} {
		if testing.Short() && row.scan != cloudScan {
			continue
		}
		sc := scoreScans[row.scan]
		t.Run(row.part.Name+"/"+sc.name, func(t *testing.T) { y.add(t, row.part, sc) })
	}
	// Clouds have points of their noise's tails outside every band.
	y.check(t, 0.98, 0.96)
}
