//go:build study

package segment_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"spotface/mesh/scansim/trials"
)

// TestStudyDust counts the clouds of dust that show a surface.
func TestStudyDust(t *testing.T) {
	clouds := trials.Asked(100)
	tab := trials.Table{
		Title: "Dust",
		About: "Clouds of points that lie on nothing, in a cube of 100 mm, uniform and in clusters, with the seeds from 0:\n" +
			"clouds that show a surface, and their surfaces. A right program shows one in at most one of 100.\n\n" +
			"    go test -tags study -run StudyDust -timeout 0 ./fit/segment",
		Head: []string{"points", "clusters", "clouds", "that show a surface", "surfaces"},
	}
	for _, points := range []int{1_000, 10_000, 100_000} {
		for _, clusters := range []int{0, 5, 40} {
			shown, surfaces := 0, 0
			for seed := range uint64(clouds) {
				seg := segmentPoints(t, dust(seed, points, clusters), seed)
				if surfaces += len(seg.Surfaces); len(seg.Surfaces) > 0 {
					shown++
					t.Logf("%d points, %d clusters, seed %d: %d surfaces", points, clusters, seed, len(seg.Surfaces))
				}
			}
			t.Logf("%d points, %d clusters: %d of %d clouds show a surface", points, clusters, shown, clouds)
			assert.LessOrEqual(t, shown, trials.Most(clouds, dustShows, trials.Rate), "%d points, %d clusters", points, clusters)
			tab.Rows = append(tab.Rows, []string{fmt.Sprint(points), fmt.Sprint(clusters), fmt.Sprint(clouds),
				fmt.Sprint(shown), fmt.Sprint(surfaces)})
		}
	}
	tab.Write(t, "../..", "dust")
}
