package batch

const (
	// maxLine, bytes, is more than any report has: 100 times one of 36 holes. What is
	// longer is no line of results. TestWhatIsNoResultIsRefused.
	maxLine = 1 << 26

	// blockBytes is how much is read before it is decoded on all cores: enough to keep
	// them busy, little beside the 200 MB that a summary may take. BenchmarkSummary.
	blockBytes = 1 << 22
)
