package report

// Names of the sources of uncertainty, as a budget prints them. A reference length
// is "reference diameter C1", by what was taken of what.
const (
	SourceNoise       = "scan noise"
	SourceSmoothing   = "smoothing by the scan"
	SourceDatum       = "datum"
	SourceSize        = "size of the hole" // by the bonus at maximum material condition
	SourceLength      = "scanner length error"
	SourceCoating     = "coating thickness"
	SourceTemperature = "part temperature"
	SourceExpansion   = "expansion coefficient"
	SourceScatter     = "disagreement of reference lengths"
	SourceReference   = "reference " // and what it is of
)

// BudgetLine is one source of a result's uncertainty.
type BudgetLine struct {
	Source       string  `json:"source"`
	Value        float64 `json:"value"`
	Unit         string  `json:"unit,omitempty"`
	Standard     float64 `json:"standard_uncertainty"`
	Distribution string  `json:"distribution"`
	DoF          float64 `json:"dof,omitempty"` // absent: so many that they do not matter
	Sensitivity  float64 `json:"sensitivity"`   // unit of the result a unit of the source
	Contribution float64 `json:"contribution"`  // to the standard uncertainty, in the result's unit
	Share        float64 `json:"share"`         // of the result's variance, 0 to 1
}

// FromScan reports whether a better scan makes the source smaller.
func (l *BudgetLine) FromScan() bool {
	return l.Source == SourceNoise || l.Source == SourceSmoothing || l.Source == SourceDatum ||
		l.Source == SourceSize
}
