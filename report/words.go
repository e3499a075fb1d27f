package report

import (
	"fmt"
	"slices"
	"strings"
)

// gather sorts a list into groups in their order; alike says whether an item belongs to a group.
func gather[T any](list []T, alike func(group []T, v T) bool) (groups [][]T) {
	for _, v := range list {
		i := slices.IndexFunc(groups, func(g []T) bool { return alike(g, v) })
		if i < 0 {
			i, groups = len(groups), append(groups, nil)
		}
		groups[i] = append(groups[i], v)
	}
	return groups
}

// plural picks the words for one or for n things; many may have a place for n.
func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	if strings.Contains(many, "%d") {
		return fmt.Sprintf(many, n)
	}
	return many
}

// turnWord says which way a turn goes, looking at the face.
func turnWord(deg float64) string {
	if deg < 0 {
		return "clockwise"
	}
	return "counter-clockwise"
}
