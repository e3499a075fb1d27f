package deviation

const (
	// noiseFactor is how many standard deviations of the scan's noise are grey where no band
	// is given: 95 % of a perfect surface (TestColoursOfAPerfectFace).
	noiseFactor = 2
	// outerShare is the share of the points that the steps of colour are laid out for; those
	// beyond have the last colour.
	outerShare = 0.995
	// sampled is about how many points percentiles are taken from.
	sampled = 100_000
	// chunk is how many points are worked on at a time.
	chunk = 1 << 15
	// worst is how many places are named.
	worst = 5
)
