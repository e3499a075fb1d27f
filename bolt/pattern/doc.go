// Package pattern lays nominal patterns on measured places of one plane.
//
// Input is places in a plane with their joint covariance, and where a pattern has
// them, both in millimetres. Output is the similarity that lays the one on the other:
// centre, turn and scale, each held where the caller knows it, and how far each place
// lies from the pattern, with the covariance of that. Angles are counter-clockwise.
// It knows nothing of holes; package bolt measures those.
package pattern
