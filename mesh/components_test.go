package mesh

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestConnectedComponents(t *testing.T) {
	s := &Scan{
		Offsets: make([]Vec32, 12),
		Triangles: [][3]int32{
			{0, 1, 2},                       // alone
			{3, 4, 5}, {5, 6, 7}, {7, 8, 3}, // touching in corners
			{9, 10, 9}, // without area, yet a triangle
		},
	}
	label, sizes := ConnectedComponents(s)
	assert.Equal(t, []int32{1, 1, 1, 0, 0, 0, 0, 0, 0, 2, 2, 3}, label)
	assert.Equal(t, []int{3, 1, 1, 0}, sizes, "the last vertex is in no triangle")
}

func ExampleConnectedComponents() {
	s := &Scan{
		Offsets:   []Vec32{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {1, 1, 0}, {9, 0, 0}, {9, 1, 0}, {9, 0, 1}},
		Triangles: [][3]int32{{4, 5, 6}, {0, 1, 2}, {1, 3, 2}},
	}
	label, sizes := ConnectedComponents(s)
	fmt.Println(label, sizes)
	// Output: [0 0 0 0 1 1 1] [2 1]
}
