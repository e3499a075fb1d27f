package batch

const (
	// confidence of every interval. TestIntervalsCover.
	confidence = 0.95

	// leastCapability is the number of parts from which the approximate interval of Cpk
	// holds (e-Handbook 6.1.6). TestCapabilityNeedsPartsAndNormality.
	leastCapability = 25

	// leastNormal is the number of values from which the limits of the test of normality
	// hold (D'Agostino & Stephens, table 4.7), and normalLimit the one at 1 %.
	// TestNormality.
	leastNormal = 8
	normalLimit = 1.035

	// leastChart is the number of parts from which a control chart is drawn: the
	// e-Handbook's example has as many. TestChartOfTheHandbook.
	leastChart = 10

	// perSignal is in how many values of a steady process the four rules signal once, on
	// average (Champ & Woodall, Technometrics 29, 1987). TestRunLength.
	perSignal = 91.75

	// steadyLevel is the chance at which a steady process has so many signals that it is
	// called unsteady: rare enough for a plan of 100 characteristics. TestSteady.
	steadyLevel = 0.001

	// driftLevel is the chance that anything of a batch is called drifting while nothing
	// drifts, all that is looked at together: once in 100 batches. TestDrift.
	driftLevel = 0.01

	// leastDrift is the number of parts from which a drift is looked for: fewer show only
	// changes that any reader sees. TestDrift.
	leastDrift = 10

	// screenLines is the first screen, of which tableFrame go around the rows of the table.
	// mostParts are listed to look at; shownDrifts and shownParts of each list are on the
	// first screen. TestTheFirstScreenFits.
	screenLines, tableFrame = 25, 6
	mostParts               = 10
	shownDrifts, shownParts = 2, 2
)
