package report

// Scale compares the scan's scale with lengths that were taken by hand.
type Scale struct {
	// Factor is the lengths by hand over the scanned ones, the weighted mean,
	// with its expanded uncertainty: of those that set the scale, where some do,
	// else of all.
	Factor         float64 `json:"factor"`
	Uncertainty    float64 `json:"uncertainty"`
	CoverageFactor float64 `json:"coverage_factor"`
	EffectiveDoF   float64 `json:"effective_dof,omitempty"`
	// Set says that the lengths in Results are multiplied by Factor. Factor then
	// holds the temperature's expansion, too.
	Set bool `json:"set"`
	// Agrees is false where a length that checks the scale differs by more than
	// the uncertainty of the difference, or the lengths from each other by more
	// than chance allows (ChiSquared beyond its 95 % point).
	Agrees     bool          `json:"agrees"`
	ChiSquared float64       `json:"chi_squared,omitempty"`
	DoF        int           `json:"dof,omitempty"` // of ChiSquared; absent with one length
	Lengths    []ScaleLength `json:"lengths"`
}

// ScaleLength is one length by hand against the scan.
type ScaleLength struct {
	Of       Characteristic `json:"characteristic"`
	Features []string       `json:"features"`          // of the plan
	Matched  []string       `json:"matched,omitempty"` // of the scan, where they differ
	Value    float64        `json:"value"`             // by hand, mm, expanded uncertainty U
	U        float64        `json:"value_uncertainty"`
	// Scanned is the scan's length, coat and temperature corrected; of a length
	// that only checks, to the scale that others set.
	Scanned            float64 `json:"scanned"`
	ScannedUncertainty float64 `json:"scanned_uncertainty"`
	Difference         float64 `json:"difference"` // scanned less by hand
	Uncertainty        float64 `json:"uncertainty"`
	// En is |Difference| over its expanded uncertainty, the E_n number of ISO
	// 13528: above 1 the two disagree.
	En       float64 `json:"en"`
	Agrees   bool    `json:"agrees"`
	SetScale bool    `json:"set_scale,omitempty"`
}
