package bolt

import (
	"math"
)

// invert3 inverts a symmetric 3×3 matrix.
func invert3(m [3][3]float64) (inv [3][3]float64, ok bool) {
	c00 := m[1][1]*m[2][2] - m[1][2]*m[2][1]
	c01 := m[1][2]*m[2][0] - m[1][0]*m[2][2]
	c02 := m[1][0]*m[2][1] - m[1][1]*m[2][0]
	det := m[0][0]*c00 + m[0][1]*c01 + m[0][2]*c02
	scale := m[0][0] * m[1][1] * m[2][2]
	if !(math.Abs(det) > 1e-14*math.Abs(scale)) {
		return inv, false
	}
	inv[0] = [3]float64{c00 / det, (m[0][2]*m[2][1] - m[0][1]*m[2][2]) / det, (m[0][1]*m[1][2] - m[0][2]*m[1][1]) / det}
	inv[1] = [3]float64{c01 / det, (m[0][0]*m[2][2] - m[0][2]*m[2][0]) / det, (m[0][2]*m[1][0] - m[0][0]*m[1][2]) / det}
	inv[2] = [3]float64{c02 / det, (m[0][1]*m[2][0] - m[0][0]*m[2][1]) / det, (m[0][0]*m[1][1] - m[0][1]*m[1][0]) / det}
	return inv, true
}
