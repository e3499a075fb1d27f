//go:build race

package scanio

// pooled is what regular expressions may take anew, bytes: the race detector drops a
// quarter of what is put into a pool.
const pooled = 4 << 20
