package batch

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"spotface/report"
	"spotface/report/check"
	"spotface/report/internal/testpart"
	"spotface/report/internal/testreport"
	"spotface/report/plan"
)

// simulated is a batch of kettle ports, as reports: each part is made with a spread of its
// own, and measured with the uncertainty that its report states.
type simulated struct {
	parts int
	made  float64 // standard deviation of each hole's angle, degrees
	drift float64 // of the third hole over the batch, degrees
	wear  float64 // of all holes' diameters over the batch, mm
	seed  uint64
}

const portPlan = testpart.Plan

// lines returns the batch as check writes it.
func (s simulated) lines(t testing.TB, p *plan.Plan) []string {
	t.Helper()
	rng := rand.New(rand.NewPCG(s.seed, 18))
	part := testpart.Kettle()
	base := testreport.Of(t, part)
	sum, err := p.Checksum()
	require.NoError(t, err)
	out := make([]string, s.parts)
	for i := range out {
		along := float64(i)/float64(max(s.parts-1, 1)) - 0.5
		rep := *base
		rep.Holes = slices.Clone(base.Holes)
		for h := range rep.Holes {
			angle := 60*float64(h) + s.made*rng.NormFloat64()
			if h == 2 {
				angle += s.drift * along
			}
			sin, cos := math.Sincos(angle * math.Pi / 180)
			// What the scan adds: a standard uncertainty of U each way.
			noise := func() float64 { return part.U * rng.NormFloat64() }
			at := part.At(part.Pitch/2*cos+noise(), part.Pitch/2*sin+noise(), 0)
			rep.Holes[h].Centre = report.Vec{at.X, at.Y, at.Z}
			rep.Holes[h].Diameter = part.Diameter + 0.05 + s.wear*along + noise()
		}
		rep.Scan.File = fmt.Sprintf("part-%04d.stl", i+1)
		rep.Scan.SHA256 = fmt.Sprintf("%d-%064d", s.seed, i+1)
		j, err := check.Check(p, &rep)
		require.NoError(t, err)
		l := Line{PlanChecksum: sum, Number: i + 1, Path: "scans/" + rep.Scan.File, Report: rep.Judged(j)}
		var b bytes.Buffer
		require.NoError(t, l.Write(&b))
		out[i] = b.String()
	}
	return out
}

func (s simulated) text(t testing.TB, p *plan.Plan) string {
	t.Helper()
	return strings.Join(s.lines(t, p), "")
}

func summaryOf(t testing.TB, p *plan.Plan, files ...string) *Summary {
	t.Helper()
	b, err := New(p)
	require.NoError(t, err)
	for i, f := range files {
		name := fmt.Sprintf("results-%d.jsonl", i+1)
		require.NoError(t, b.Read(t.Context(), name, strings.NewReader(f)))
	}
	s, err := b.Summary()
	require.NoError(t, err)
	return s
}

func textOf(t testing.TB, s *Summary, full bool) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, s, full))
	return b.String()
}
