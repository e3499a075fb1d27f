package mesh

import (
	"math"
	"slices"
)

// fewSlots is the number of slots that are best sorted by insertion.
const fewSlots = 20

// selectSlot puts the k-th smallest by axis at a[k], what is not larger before
// it and what is not smaller after it.
//
// It is the idea of Floyd & Rivest (1975), Communications of the ACM 18(3), p.
// 165: cut at values found in a sample so close on either side of the k-th
// that a pass and a half over a is left. The passes do not branch on the data,
// which on a scan's points a processor cannot guess.
func selectSlot(a []slot, k, axis int) {
	for len(a) > fewSlots {
		t := sampleCut(a, k, axis)
		var less int
		switch axis {
		case 0:
			less = splitX(a, t)
		case 1:
			less = splitY(a, t)
		default:
			less = splitZ(a, t)
		}
		switch {
		case k < less:
			a = a[:less]
		case less > 0:
			a, k = a[less:], k-less
		default:
			// t is the smallest: put all that equal it first.
			equal := splitEqual(a, t, axis)
			if k < equal {
				return
			}
			a, k = a[equal:], k-equal
		}
	}
	for i := 1; i < len(a); i++ {
		s := a[i]
		j := i
		for ; j > 0 && a[j-1].v[axis] > s.v[axis]; j-- {
			a[j] = a[j-1]
		}
		a[j] = s
	}
}

// sampleCut returns a value of a that likely lies just beyond the k-th
// smallest, on the side where more of a is cut off.
func sampleCut(a []slot, k, axis int) float32 {
	const most = 255
	var sample [most]float32
	m := min(most, 5+len(a)/24)
	step := len(a) / m
	for i := range m {
		sample[i] = a[i*step+step/2].v[axis]
	}
	if m > 40 {
		slices.Sort(sample[:m])
	} else {
		for i := 1; i < m; i++ {
			x, j := sample[i], i
			for ; j > 0 && sample[j-1] > x; j-- {
				sample[j] = sample[j-1]
			}
			sample[j] = x
		}
	}
	// The rank of the k-th in the sample, and how far it strays.
	f := (float64(k) + 0.5) / float64(len(a))
	stray := math.Sqrt(float64(m) * f * (1 - f))
	rank := f * float64(m)
	if f < 0.5 {
		rank += stray
	} else {
		rank -= stray
	}
	return sample[min(m-1, max(0, int(rank)))]
}

// splitX puts those with x below t first and returns their number. splitY and
// splitZ are the same: an axis in a variable costs a check at every slot.
func splitX(a []slot, t float32) (less int) {
	for i := range a {
		s := a[i]
		a[i] = a[less]
		a[less] = s
		d := 0
		if s.v[0] < t {
			d = 1
		}
		less += d
	}
	return less
}

func splitY(a []slot, t float32) (less int) {
	for i := range a {
		s := a[i]
		a[i] = a[less]
		a[less] = s
		d := 0
		if s.v[1] < t {
			d = 1
		}
		less += d
	}
	return less
}

func splitZ(a []slot, t float32) (less int) {
	for i := range a {
		s := a[i]
		a[i] = a[less]
		a[less] = s
		d := 0
		if s.v[2] < t {
			d = 1
		}
		less += d
	}
	return less
}

// splitEqual puts those at t or below first and returns their number.
func splitEqual(a []slot, t float32, axis int) (equal int) {
	for i := range a {
		if a[i].v[axis] <= t {
			a[i], a[equal] = a[equal], a[i]
			equal++
		}
	}
	return equal
}
