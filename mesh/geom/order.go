package geom

import "slices"

// Nth puts the k-th smallest of a, counted from 0, at a[k], what is not larger
// before it and what is not smaller after it, and returns it (Hoare 1961, Find,
// Comm. ACM 4, p. 321). The passes do not branch on the data, which a processor
// cannot guess. a holds no NaN.
func Nth[T float32 | float64](a []T, k int) T {
	for len(a) > insertionBelow {
		m := len(a) / 2
		t := middle(a[0], a[m], a[len(a)-1])
		less := 0
		for i, v := range a {
			a[i] = a[less]
			a[less] = v
			d := 0
			if v < t {
				d = 1
			}
			less += d
		}
		switch {
		case k < less:
			a = a[:less]
		case less > 0:
			a, k = a[less:], k-less
		default: // t is the smallest: put all that equal it first
			equal := 0
			for i, v := range a {
				if v == t {
					a[i], a[equal] = a[equal], v
					equal++
				}
			}
			if k < equal {
				return t
			}
			a, k = a[equal:], k-equal
		}
	}
	for i := 1; i < len(a); i++ {
		v, j := a[i], i
		for ; j > 0 && a[j-1] > v; j-- {
			a[j] = a[j-1]
		}
		a[j] = v
	}
	return a[k]
}

// middle returns the second of three.
func middle[T float32 | float64](a, b, c T) T {
	return max(min(a, b), min(max(a, b), c))
}

// Median returns the middle value of a, the mean of two for an even number,
// and 0 for none. It changes the order of a, which holds no NaN.
func Median[T float32 | float64](a []T) T {
	if len(a) == 0 {
		return 0
	}
	k := len(a) / 2
	hi := Nth(a, k)
	if len(a)%2 == 1 {
		return hi
	}
	return (slices.Max(a[:k]) + hi) / 2
}
