package bolt

// Constants of what noise makes of holes.
const (
	// likeRadius, clearGap: candidates whose largest radius is less than likeRadius times
	// the smallest have one noise, and so do those between whose radii there is no gap of
	// clearGap. Chosen: 2 is well within what the kernels of one radius cover, a bore is
	// beyond it. TestByRadius.
	likeRadius, clearGap = 2, 1.2
	// alikeRadii is the ratio of radii up to which holes are of one drill. Common practice.
	alikeRadii = 1.02
	// fewestRows of a wall are enough to say how its axis leans. By trial. TestLean.
	fewestRows = 3
	// faceSample is how many points of a face are looked at for its noise, and faceBand how
	// far they may be off it, in standard deviations of the noise. Speed; by trial.
	faceSample, faceBand = 40_000, 5
)
