package segment_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/mesh/scansim"
)

// scans are the ways in which each part is scanned.
var scoreScans = []struct {
	name string
	scan func(t *testing.T, p *scansim.Part) (*mesh.Scan, scansim.Truth)
}{
	{"fused", func(t *testing.T, p *scansim.Part) (*mesh.Scan, scansim.Truth) {
		s, tr, err := scansim.Fused(t.Context(), p, scansim.FusedOptions{Seed: 11, Voxel: 0.5, Noise: 0.02, ShowHidden: true, Missing: 0.02})
		require.NoError(t, err)
		return s, tr
	}},
	{"cloud", func(t *testing.T, p *scansim.Part) (*mesh.Scan, scansim.Truth) {
		s, tr, err := scansim.Cloud(t.Context(), p, scansim.CloudOptions{Seed: 12, Points: 60_000, Noise: 0.03, Tangential: 0.02, Outliers: 0.05, ShowHidden: true})
		require.NoError(t, err)
		return s, tr
	}},
	{"exact", func(t *testing.T, p *scansim.Part) (*mesh.Scan, scansim.Truth) {
		s, tr, err := scansim.Cloud(t.Context(), p, scansim.CloudOptions{Seed: 13, Points: 16_000, ShowHidden: true, EdgeMargin: 1e-9})
		require.NoError(t, err)
		return s, tr
	}},
}

func TestScore(t *testing.T) {
	only := os.Getenv("SCORE")
	for _, p := range scoreParts() {
		for _, sc := range scoreScans {
			if only != "" && !strings.Contains(p.Name+"/"+sc.name, only) {
				continue
			}
			t.Run(p.Name+"/"+sc.name, func(t *testing.T) {
				s, tr := sc.scan(t, p)
				if s.Normals == nil {
					_, err := mesh.SetNormals(t.Context(), s, nil, 0)
					require.NoError(t, err)
				}
				seg, err := segment.Segment(t.Context(), s, segment.Options{})
				require.NoError(t, err)
				r := scoreOf(s, &tr, seg)
				t.Logf("n %d noise %.4f spacing %.3f: accuracy %.4f, dice %.3f worst %.3f, found %d of %d", s.Len(), seg.Noise, seg.Spacing, r.accuracy, r.dice, r.worst, r.found, r.faces)
				for _, m := range r.missing {
					t.Logf("  missing %s", m)
				}
				for _, m := range r.wrong {
					t.Logf("  wrong: %s", m)
				}
				for _, e := range r.errors {
					if e.z > 5 || e.z < -5 {
						t.Logf("  %s %.4f z %.1f", e.what, e.mm, e.z)
					}
				}
			})
		}
	}
}
