//go:build !race

package scanio

const pooled = 0 // see race_test.go
