package report

import (
	"bytes"
	"testing"

	"github.com/golang/geo/r3"
	"github.com/stretchr/testify/require"

	"spotface/bolt"
	"spotface/fit/segment"
	"spotface/mesh"
	"spotface/report/internal/testpart"
)

func reportOf(t testing.TB, p testpart.Part) *Report {
	t.Helper()
	s, seg, m := p.Measure(t)
	return built(t, s, seg, m)
}

func built(t testing.TB, s *mesh.Scan, seg *segment.Segmentation, m *bolt.Measurement) *Report {
	t.Helper()
	rep, err := Build(t.Context(), s, seg, m)
	require.NoError(t, err)
	return rep
}

func textOf(t testing.TB, rep *Report) string {
	t.Helper()
	v, err := NewView(rep, ViewOptions{})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, WriteText(&b, TextOptions{Full: true}, v))
	return b.String()
}

// What tests from outside use.
const ScreenLines = screenLines

func NewVec(v r3.Vector) Vec { return vec(v) }

func (rep *Report) PlaceHoles() { rep.place() }
