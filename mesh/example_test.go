package mesh_test

import (
	"context"
	"fmt"

	"github.com/golang/geo/r3"

	"spotface/mesh"
)

// A square plate of 30 mm with a square hole, of 5 mm triangles: points become a scan, the
// scan has normals, and its open edges are the outline and the hole.
func Example() {
	ctx := context.Background()
	var pts []r3.Vector
	var triangles [][3]int32
	for y := range 7 {
		for x := range 7 {
			pts = append(pts, r3.Vector{X: 5 * float64(x), Y: 5 * float64(y)})
			i := int32(7*y + x) // the corner of a cell of two triangles
			if x < 6 && y < 6 && (x != 3 || y != 2) {
				triangles = append(triangles, [3]int32{i, i + 1, i + 8}, [3]int32{i, i + 8, i + 7})
			}
		}
	}
	scan, err := mesh.New(ctx, pts, nil, triangles)
	if err != nil {
		fmt.Println(err)
		return
	}
	scan, err = mesh.EstimateNormals(ctx, scan, nil, 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	loops, err := mesh.BoundaryLoops(ctx, scan, 0)
	fmt.Printf("%d points, normal %.0f %v\n", scan.Len(), scan.Normal(0), err)
	for _, l := range loops {
		fmt.Printf("loop of %d points, closed %v, through %.0f\n", len(l.Points), l.Closed, scan.Point(int(l.Points[0])))
	}
	// Output:
	// 49 points, normal {0 0 1} <nil>
	// loop of 24 points, closed true, through {0 0 0}
	// loop of 4 points, closed true, through {15 10 0}
}
